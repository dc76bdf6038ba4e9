"""`up --install`: the unit that starts the stack with the machine, by systemd's verifier and a systemctl of ours."""

import os
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from deploy.up import install
from deploy.up.install import NAME, SYSTEM, Place, of_person, unit
from deploy.up.refusal import StartRefused


def test_a_person_has_units_of_their_own() -> None:
    assert of_person({"HOME": "/home/rosa"}).folder == Path("/home/rosa/.config/systemd/user")
    assert of_person({"HOME": "/home/rosa"}).manager == ("systemctl", "--user")
    assert of_person({"XDG_CONFIG_HOME": "/x", "HOME": "/y"}).folder == Path("/x/systemd/user")


def test_settings_go_with_it_and_nothing_else_of_the_environment() -> None:
    environ = {
        "HEELMARK_HTTP_PORT": "8700",
        "HEELMARK_LAN_NAME": 'a "b" 50% $x\\',
        "PATH": "/bin",
        "AWS_KEY": "s",
    }
    text = unit(SYSTEM, Path("/srv/shop 1"), environ, ["--lan"])
    assert 'Environment="HEELMARK_HTTP_PORT=8700"\n' in text
    assert 'Environment="HEELMARK_LAN_NAME=a \\"b\\" 50%% $$x\\\\"\n' in text
    assert "AWS" not in text
    assert text.count("Environment=") == 2
    assert '"-m" "deploy.up" "--lan"\n' in text
    assert "WorkingDirectory=/srv/shop 1\n" in text
    assert "WantedBy=multi-user.target\n" in text


@pytest.mark.parametrize("name", ["HEELMARK_SECRET_KEY", "HEELMARK_DATABASE_URL", "HEELMARK_MQTT_PASSWORD"])
def test_a_secret_does_not_go_into_a_unit(name: str) -> None:
    with pytest.raises(StartRefused, match=f"{name}_FILE"):
        unit(SYSTEM, Path("/srv"), {name: "x" * 40}, [])
    assert unit(SYSTEM, Path("/srv"), {f"{name}_FILE": "/k"}, [])


def test_a_setting_cannot_add_lines_to_the_unit() -> None:
    with pytest.raises(StartRefused, match="line break"):
        unit(SYSTEM, Path("/srv"), {"HEELMARK_LAN_NAME": "a\nExecStartPre=/bin/sh"}, [])


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze on this machine")
def test_systemd_finds_no_fault(tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_text(unit(SYSTEM, tmp_path, {"HEELMARK_LAN_NAME": 'a "b" 50% $x\\'}, ["--demo"]))
    verified = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(path)],
        env={"SYSTEMD_UNIT_PATH": f"{tmp_path}:", "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
    )
    assert (verified.returncode, verified.stderr) == (0, "")


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """What a systemctl and a loginctl of ours were asked for, a line each."""
    log = tmp_path / "asked"
    programs = tmp_path / "bin"
    programs.mkdir()
    for name in ("systemctl", "loginctl"):
        script = programs / name
        script.write_text(f'#!/bin/sh\necho "{name} $*" >> {shlex.quote(str(log))}\ntest ! -e "$0.fails"\n')
        script.chmod(0o755)
    monkeypatch.setenv("PATH", f"{programs}:{os.environ['PATH']}")
    return log


def test_a_persons_unit_is_kept_enabled_and_started_without_that_person(asked: Path, tmp_path: Path) -> None:
    place = Place(tmp_path / "units", ("systemctl", "--user"), "default.target")
    install.install(place, "[Unit]\n")
    assert (tmp_path / "units" / NAME).read_text() == "[Unit]\n"
    assert asked.read_text().splitlines() == [
        "systemctl --user daemon-reload",
        "loginctl enable-linger",
        f"systemctl --user enable {NAME}",
        f"systemctl --user restart {NAME}",
    ]


def test_what_systemd_refuses_is_told(asked: Path, tmp_path: Path) -> None:
    (tmp_path / "bin" / "systemctl.fails").touch()
    with pytest.raises(StartRefused, match="daemon-reload"):
        install.install(Place(tmp_path / "units", ("systemctl",), "x"), "[Unit]\n")


def test_without_systemd_it_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(StartRefused, match="no systemctl"):
        install.install(SYSTEM, "[Unit]\n")
