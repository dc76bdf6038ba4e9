"""The compose file run by an engine: from nothing to a verdict over TLS, killed, backed up, restored, upgraded."""

import time
from collections.abc import Iterator

import pytest

from service import VERSION
from tests.containers.site import KINDS, Site, missing, podman
from tests.support.feeding import one_device
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


def measured(site: Site, number: int) -> None:
    """A cylinder with a device on it, whose readings become one pair and a verdict."""
    device, serial = f"urn:dev:ops:32473-container-{number}", f"C-{number}"
    cylinder = {
        "serial": serial,
        "marks": "DOT-4BA400",
        "water_capacity_kg": 21.6,
        "tare_kg": 12.7,
        "place": "shop",
    }
    hookup = {
        "cylinder": serial,
        "pressure_device": device,
        "temperature_device": device,
        "valve": "vapour",
        "from": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(time.time() - 2000)),
    }
    for path, body in (("cylinders", cylinder), ("hookups", hookup)):
        answer = site.call("POST", f"/api/v1/{path}", json=body)
        assert answer.status_code == 201, answer.text
    # The worker asks for its hookups every few seconds; readings of a device that it does not know are not kept.
    time.sleep(10.0)
    site.publish(one_device(device, seed=4, duration_s=1200, start_s=time.time() - 1300))
    wait_for(lambda: len(pairs(site, number)) == 1, within_s=120)
    verdict = site.call("GET", f"/api/v1/cylinders/{serial}/verdict").json()
    assert "R-134a" in [one["designation"] for one in verdict["identity"]["candidates"]], verdict


def pairs(site: Site, number: int) -> list[dict[str, object]]:
    return site.call("GET", f"/api/v1/cylinders/C-{number}/pairs").json()["items"]


def test_from_nothing_to_a_verdict_over_tls(site: Site) -> None:
    wait_for(site.is_ready, within_s=150)
    measured(site, 1)


def test_what_is_killed_comes_back_and_nothing_is_lost_or_doubled(site: Site) -> None:
    for kind in KINDS:
        site.kill(kind)
        wait_for(site.is_ready, within_s=150)
    measured(site, 2)
    assert len(pairs(site, 1)) == 1


def test_a_backup_is_restored_into_an_empty_database(site: Site) -> None:
    made = site.run("exec", "-T", "backup", "heelmark", "backup", "/backups", "--keep", "14")
    path = made.split()[1].rstrip(":")
    kept = pairs(site, 1)
    measured(site, 3)
    site.run("stop", "service", "watch", "deliverer", "worker", "credentials")
    site.run("exec", "-T", "database", "sh", "-c", EMPTIED)
    assert "restored" in site.run("exec", "-T", "backup", "heelmark", "restore", path)
    site.start()
    wait_for(site.is_ready, within_s=150)
    assert pairs(site, 1) == kept
    assert site.call("GET", "/api/v1/cylinders/C-3").status_code == 404
    measured(site, 4)


def test_an_upgrade_keeps_everything(site: Site) -> None:
    kept = pairs(site, 1)
    podman("tag", f"localhost/heelmark:{VERSION}", "localhost/heelmark:next")
    told = site.start(HEELMARK_VERSION="next")
    assert "nothing was changed" in told
    wait_for(site.is_ready, within_s=150)
    running = podman("inspect", "--format", "{{.ImageName}}", "heelmark_service_1").strip()
    assert running.endswith(":next")
    assert pairs(site, 1) == kept
    measured(site, 5)
