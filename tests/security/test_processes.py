"""Processes that die or hang: found, named, replaced; the board and the API live as long as they can."""

import os
import signal

import pytest
import requests

from tests.support.signing_in import AtTheBoard
from tests.support.stack import Stack, wait_for

pytestmark = pytest.mark.slow


def checks(site: Stack) -> dict[str, str]:
    """The checks of readiness that fail, with what they say."""
    told = requests.get(f"{site.first_run['base_url']}/readyz", timeout=30).json()["checks"]
    return {check["check"]: check["text"] for check in told if not check["healthy"]}


def test_processes_that_hang_are_replaced(site: Stack) -> None:
    names = ("worker", "broker", "service", "watch", "deliverer", "broker-files")
    before = {name: site.children()[name].pid for name in names}
    for name in names:
        for one in [*site.children()[name].children(recursive=True), site.children()[name]]:
            one.send_signal(signal.SIGSTOP)

    def all_new() -> bool:
        now = site.children()
        return all(name in now and now[name].pid != before[name] for name in names)

    wait_for(all_new, within_s=180)
    wait_for(
        lambda: requests.get(f"{site.first_run['base_url']}/readyz", timeout=30).status_code == 200,
        within_s=90,
    )
    assert site.output().count("hung: no sign of life for 60 s") >= 6


def test_one_that_keeps_dying_is_named_and_comes_back_when_it_can(site: Stack) -> None:
    inbox, aside = site.data / "worker" / "worker.sqlite", site.data / "worker" / "aside.sqlite"
    wait_for(lambda: "worker" in site.children(), within_s=60)
    os.kill(site.children()["worker"].pid, signal.SIGKILL)
    inbox.rename(aside)
    inbox.mkdir()
    try:
        wait_for(lambda: "worker" in checks(site).get("processes", ""), within_s=60)
        wait_for(lambda: "3 times" in checks(site).get("processes", ""), within_s=90)
        board = site.first_run["board"]
        person = AtTheBoard(site.first_run["base_url"], "127.0.3.1")
        assert person.sign_in(board["user"], board["password"]).status_code == 303
        assert "The worker is not running" in person.get("/rack").text
        assert site.call("GET", "/places", "reader").status_code == 200
        assert (
            requests.get(f"{site.first_run['base_url']}/readyz?part=serving", timeout=30).status_code == 200
        )
    finally:
        for path in site.data.glob("worker/worker.sqlite*"):
            path.rmdir() if path.is_dir() else path.unlink()
        aside.rename(inbox)
    wait_for(lambda: "processes" not in checks(site), within_s=120)
    assert site.process is not None and site.process.poll() is None


def test_retention_and_a_backup_are_done_by_themselves(site: Stack) -> None:
    wait_for(lambda: (site.data / "backup.done").exists(), within_s=120)
    wait_for(lambda: "retention" not in checks(site), within_s=120)
    made = list((site.data / "backups").glob("heelmark-*.jsonl.gz"))
    assert made
    assert {path.stat().st_mode & 0o777 for path in made} == {0o600}
    assert "nightly" not in checks(site)
