"""The units against systemd's own verifier and its rating of exposure."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

UNITS = Path(__file__).parents[2] / "deploy" / "systemd"
SERVICES = sorted(path.name for path in UNITS.glob("*.service"))

pytestmark = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="no systemd-analyze on this machine"
)


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The units with programs that exist here; everything else stays as it is."""
    folder = tmp_path_factory.mktemp("units")
    for path in UNITS.iterdir():
        text = re.sub(r"/opt/heelmark/bin/[\w-]+", "/bin/true", path.read_text())
        (folder / path.name).write_text(text)
    return folder


def test_systemd_finds_no_fault(installed: Path) -> None:
    units = [str(p) for p in sorted(installed.iterdir()) if p.suffix in (".service", ".timer", ".target")]
    verified = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *units],
        env={"SYSTEMD_UNIT_PATH": f"{installed}:", "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
    )
    assert (verified.returncode, verified.stderr) == (0, "")


@pytest.mark.parametrize("service", SERVICES)
def test_exposure_is_low(installed: Path, service: str) -> None:
    """systemd's own scale: below 2.0 of 10 reads OK; an unhardened service has 9.6."""
    rated = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", str(installed / service)],
        capture_output=True,
        text=True,
        check=True,
    )
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", rated.stdout)
    assert found is not None
    assert float(found.group(1)) <= 2.5


def test_secrets_are_loaded_as_credentials() -> None:
    for service in SERVICES:
        text = (UNITS / service).read_text()
        for variable, path in re.findall(r"^Environment=(HEELMARK_\w+_FILE)=%d/(\S+)$", text, re.M):
            assert f"LoadCredential={path}:" in text, (service, variable)
        assert not re.search(
            r"^Environment=HEELMARK_\w*(PASSWORD|SECRET_KEY|TOKEN|DATABASE_URL)=", text, re.M
        )


def test_a_call_that_is_not_let_through_is_refused_and_kills_nobody() -> None:
    """numpy's library asks where its memory lies (mbind), which the filter does not let through."""
    for service in SERVICES:
        assert "SystemCallErrorNumber=EPERM" in (UNITS / service).read_text(), service


def test_the_brokers_users_are_written_before_what_keeps_them_counts_as_started() -> None:
    text = (UNITS / "heelmark-broker-files.service").read_text()
    assert re.search(
        r"^ExecStartPre=\S+/heelmark broker-files --directory /var/lib/heelmark-broker$", text, re.M
    )
