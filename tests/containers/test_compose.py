"""The compose file run by an engine: from nothing to a verdict over TLS, killed, backed up, restored, upgraded."""

from collections.abc import Iterator

import pytest

from service import VERSION
from tests.containers.installation import kill, podman
from tests.containers.site import KINDS, Site, missing
from tests.support.stack import wait_for

EMPTIED = (
    "export PGPASSWORD=$(cat /run/secrets/database-password); "
    "dropdb -U heelmark --force heelmark && createdb -U heelmark heelmark"
)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.timeout(1500),
    pytest.mark.skipif(missing() is not None, reason=str(missing())),
]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    made = Site(tmp_path_factory.mktemp("containers"))
    try:
        made.start()
        yield made
    finally:
        made.end()


def test_from_nothing_to_a_verdict_over_tls(site: Site) -> None:
    wait_for(site.is_ready, within_s=150)
    site.measured(1)


def test_what_is_killed_comes_back_and_nothing_is_lost_or_doubled(site: Site) -> None:
    for kind in KINDS:
        kill(f"heelmark_{kind}_1")
        wait_for(site.is_ready, within_s=150)
    site.measured(2)
    assert len(site.pairs(1)) == 1


def test_a_backup_is_restored_into_an_empty_database(site: Site) -> None:
    made = site.run("exec", "-T", "backup", "heelmark", "backup", "/backups", "--keep", "14")
    path = made.split()[1].rstrip(":")
    kept = site.pairs(1)
    site.measured(3)
    site.run("stop", "service", "watch", "deliverer", "worker", "credentials")
    site.run("exec", "-T", "database", "sh", "-c", EMPTIED)
    assert "restored" in site.run("exec", "-T", "backup", "heelmark", "restore", "--wait-s", "60", path)
    site.start()
    wait_for(site.is_ready, within_s=150)
    assert site.pairs(1) == kept
    assert site.call("GET", "/api/v1/cylinders/C-3").status_code == 404
    site.measured(4)


def test_an_upgrade_keeps_everything(site: Site) -> None:
    kept = site.pairs(1)
    podman("tag", f"localhost/heelmark:{VERSION}", "localhost/heelmark:next")
    told = site.start(HEELMARK_VERSION="next")
    assert "nothing was changed" in told
    wait_for(site.is_ready, within_s=150)
    running = podman("inspect", "--format", "{{.ImageName}}", "heelmark_service_1").strip()
    assert running.endswith(":next")
    assert site.pairs(1) == kept
    site.measured(5)
