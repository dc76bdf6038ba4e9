"""The manifests' pods run by an engine: from nothing to a verdict, killed, backed up, restored, upgraded."""

from collections.abc import Iterator

import pytest

from tests.containers.installation import IMAGE, kill, podman
from tests.containers.pods import DATABASE, EMPTIED, KINDS, SERVE, Pods, missing
from tests.support.stack import wait_for

pytestmark = [
    pytest.mark.slow,
    pytest.mark.timeout(1500),
    pytest.mark.skipif(missing() is not None, reason=str(missing())),
]


@pytest.fixture(scope="module")
def pods(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pods]:
    made = Pods(tmp_path_factory.mktemp("pods"))
    try:
        made.prepare()
        made.start()
        yield made
    finally:
        made.end()


def test_from_nothing_to_a_verdict(pods: Pods) -> None:
    wait_for(pods.is_ready, within_s=150)
    pods.measured(1)


def test_what_is_killed_comes_back_and_nothing_is_lost_or_doubled(pods: Pods) -> None:
    for kind in KINDS:
        kill(f"{kind}-{kind}")
        wait_for(pods.is_ready, within_s=150)
    pods.measured(2)
    assert len(pods.pairs(1)) == 1


def test_a_backup_is_restored_into_an_empty_database(pods: Pods) -> None:
    said = pods.once("backup")
    path = said.split()[1].rstrip(":")
    kept = pods.pairs(1)
    pods.measured(3)
    pods.stop(*KINDS)
    podman("exec", DATABASE, "sh", "-c", EMPTIED)
    assert "restored" in pods.once("backup", ["heelmark", "restore", "--wait-s", "60", path])
    pods.start()
    wait_for(pods.is_ready, within_s=150)
    assert pods.pairs(1) == kept
    assert pods.call("GET", "/api/v1/cylinders/C-3").status_code == 404
    pods.measured(4)


def test_an_upgrade_keeps_everything(pods: Pods) -> None:
    kept = pods.pairs(1)
    podman("tag", IMAGE, "localhost/heelmark:next")
    pods.image = "localhost/heelmark:next"
    pods.once("migrate")
    for name in (*SERVE, "worker"):
        pods.stop(name)
        pods.play(name)
    wait_for(pods.is_ready, within_s=150)
    assert podman("inspect", "--format", "{{.ImageName}}", "service-service").strip().endswith(":next")
    assert pods.pairs(1) == kept
    pods.measured(5)
