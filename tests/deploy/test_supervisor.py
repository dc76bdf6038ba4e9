"""The supervisor with dummy children: order, readiness, deaths, stopping, no orphans."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from deploy.up import chores, kept
from deploy.up import supervisor as supervisor_module
from deploy.up.child import Child, ChildSpec
from deploy.up.chores import Chore
from deploy.up.log_file import LogFile
from deploy.up.ports import wait_until
from deploy.up.refusal import StartRefused
from deploy.up.report import Report
from deploy.up.supervisor import Supervisor

FOREVER = "import time; print('here', flush=True); time.sleep(600)"
DEAF = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); " + FOREVER


def python(name: str, code: str, **more) -> ChildSpec:
    return ChildSpec(name=name, argv=[sys.executable, "-c", code], env=os.environ, **more)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def wrote(path: Path, text: str) -> bool:
    return path.exists() and text in path.read_text()


@pytest.fixture
def said():
    return []


@pytest.fixture
def supervisor(tmp_path, said):
    one = Supervisor(tmp_path, said.append, Report(tmp_path / "stack.json"))
    yield one
    one.stop_all()


def test_children_are_stopped_in_the_opposite_order_and_none_is_left(supervisor, said):
    pids = [supervisor.start(python(name, FOREVER)).pid for name in ("broker", "service", "worker")]
    supervisor.stop_all()
    assert said == ["  worker stopped", "  service stopped", "  broker stopped"]
    assert not any(alive(pid) for pid in pids)


def test_an_essential_child_that_ends_before_it_is_ready_is_named_with_its_last_lines(supervisor):
    code = "print('no such token'); raise SystemExit(3)"
    spec = python("service", code, ready=lambda: False, essential=True)
    with pytest.raises(
        StartRefused, match=r"(?s)the service did not start: it ended \(exit code 3\).*\| no such token"
    ):
        supervisor.start(spec)


def test_an_essential_child_that_stays_silent_is_named(supervisor):
    spec = python("service", FOREVER, ready=lambda: False, ready_within_s=0.3, essential=True)
    with pytest.raises(StartRefused, match=r"the service did not start: it was not ready within 0 s"):
        supervisor.start(spec)


@pytest.fixture
def watched(supervisor):
    """Starts children that are then watched until the test is over."""
    threads = []

    def start(*specs, chores=()):
        children = [supervisor.start(spec) for spec in specs]
        threads.append(threading.Thread(target=supervisor.watch, args=(chores,)))
        threads[-1].start()
        return children

    yield start
    supervisor.request_stop()
    for thread in threads:
        thread.join(10)


def until(condition, within_s=20):
    assert wait_until(condition, within_s=within_s, still_hopeful=lambda: True)


def test_a_child_that_dies_is_started_again_and_the_person_is_told(watched, said, tmp_path):
    (first,) = watched(python("worker", FOREVER))
    os.kill(first.pid, signal.SIGKILL)
    until(lambda: report(tmp_path)["worker"]["state"] == "running" and said)
    assert said[0].startswith("The worker ended (killed by SIGKILL); starting it again in 1 s.")
    assert alive_named(tmp_path, "worker")


def test_others_go_on_while_one_keeps_dying_with_growing_waits(watched, said, tmp_path, monkeypatch):
    monkeypatch.setattr(kept, "LONGEST_WAIT_S", 2.0)
    (board, _) = watched(
        python("service", FOREVER, essential=True), python("worker", "print('inbox is corrupt'); exit(1)")
    )
    until(lambda: len(said) >= 5)
    waits = [line.partition("starting it again in ")[2].partition(".")[0] for line in said]
    assert waits[:5] == ["1 s", "2 s", "2 s", "2 s", "2 s"]
    assert all("inbox is corrupt" in line for line in said)
    assert alive(board.pid)
    until(lambda: report(tmp_path)["worker"]["deaths"] >= 5)
    told = report(tmp_path)
    assert (told["service"]["state"], told["service"]["deaths"]) == ("running", 0)
    assert told["worker"]["told"] == "ended (exit code 1)"


def test_a_child_that_was_broken_comes_back_once_it_can(watched, tmp_path, monkeypatch):
    monkeypatch.setattr(kept, "LONGEST_WAIT_S", 1.0)
    mended = tmp_path / "mended"
    watched(python("worker", f"import pathlib, time; pathlib.Path({str(mended)!r}).stat(); time.sleep(600)"))
    until(lambda: report(tmp_path)["worker"]["deaths"] >= 2)
    mended.touch()
    until(lambda: report(tmp_path)["worker"]["state"] == "running")
    assert report(tmp_path)["worker"]["told"] == ""


PULSING = "import pathlib, time\nwhile True: pathlib.Path({!r}).touch(); time.sleep(0.1)"


def test_a_hung_child_is_found_by_its_pulse_and_replaced(watched, said, tmp_path):
    pulse = tmp_path / "pulse"
    (first,) = watched(python("worker", PULSING.format(str(pulse)), pulse=pulse, hung_after_s=1.0))
    os.kill(first.pid, signal.SIGSTOP)
    until(lambda: said)
    assert said[0].startswith("The worker hung: no sign of life for 1 s; starting it again")
    assert not alive(first.pid)
    until(lambda: report(tmp_path)["worker"]["state"] == "running")


def test_a_hung_child_is_found_by_its_silence(watched, said, monkeypatch):
    monkeypatch.setattr(supervisor_module, "ASK_EVERY_S", 0.1)
    answering = threading.Event()
    answering.set()
    (first,) = watched(python("broker", FOREVER, answers=answering.is_set, hung_after_s=1.0))
    time.sleep(2.0)
    assert said == []
    answering.clear()
    until(lambda: said)
    assert not alive(first.pid)


def test_a_pulse_that_cannot_be_written_is_no_sign_of_death(watched, said, tmp_path, monkeypatch):
    """A worker on a full disk waits for room, and must not be killed for it."""
    monkeypatch.setattr(Report, "_has_room", lambda _self: False)
    pulse = tmp_path / "pulse"
    code = f"import pathlib, time; pathlib.Path({str(pulse)!r}).touch(); time.sleep(600)"
    watched(python("worker", code, pulse=pulse, hung_after_s=0.5))
    time.sleep(2.0)
    assert said == []
    assert json.loads((tmp_path / "stack.json").read_text())["disk_is_writable"] is False


def test_a_clock_set_back_does_not_keep_a_child_from_being_ready(watched, said, tmp_path):
    pulse = tmp_path / "pulse"
    pulse.touch()
    os.utime(pulse, (2e9, 2e9))
    watched(python("worker", PULSING.format(str(pulse)), pulse=pulse, ready_within_s=5.0))
    until(lambda: report(tmp_path)["worker"]["state"] == "running")
    assert said == []


def report(folder):
    told = json.loads((folder / "stack.json").read_text())
    return {child["name"]: child for child in told["children"]}


def alive_named(folder, name):
    return report(folder)[name]["state"] == "running"


def test_a_chore_is_done_when_it_is_due_and_not_again(watched, said, tmp_path):
    done = tmp_path / "done.txt"
    code = f"import pathlib; p = pathlib.Path({str(done)!r}); p.write_text(p.read_text() + 'x' if p.exists() else 'x')"
    chore = Chore(python("backup", code), tmp_path / "backup.done", tmp_path, said.append)
    watched(python("service", FOREVER), chores=[chore])
    until(lambda: (tmp_path / "backup.done").exists())
    time.sleep(1.0)
    assert done.read_text() == "x"
    assert said == []


def test_a_chore_that_fails_is_told_once_and_tried_again(watched, said, tmp_path, monkeypatch):
    monkeypatch.setattr(chores, "AGAIN_AFTER_S", 0.5)
    chore = Chore(python("backup", "print('no room'); exit(1)"), tmp_path / "done", tmp_path, said.append)
    watched(python("service", FOREVER), chores=[chore])
    until(
        lambda: (
            (tmp_path / "backup.log").exists() and (tmp_path / "backup.log").read_text().count("no room") > 1
        )
    )
    assert said == ["The backup failed: no room. It is tried again in an hour."]
    assert json.loads((tmp_path / "stack.json").read_text())["chores"] == [
        {"name": "backup", "failed": "no room"}
    ]
    assert not (tmp_path / "done").exists()


@pytest.mark.parametrize(
    ("last", "hour", "due"),
    [
        (None, 14, True),
        (1, 3, False),
        (13, 3, True),
        (13, 14, False),
        (25, 14, False),
        (27, 14, True),
        (-30, 14, True),
    ],
)
def test_a_chore_is_due_at_night_or_after_more_than_a_day(tmp_path, last, hour, due):
    at, stamp = datetime(2026, 5, 4, hour), tmp_path / "stamp"
    if last is not None:
        stamp.touch()
        when = (at - timedelta(hours=last)).timestamp()
        os.utime(stamp, (when, when))
    assert Chore(python("backup", ""), stamp, tmp_path, print, now=lambda: at).is_due() is due


def test_a_log_stays_bounded_and_its_newest_lines_are_kept(tmp_path):
    with LogFile(tmp_path / "a.log", most_bytes=1000, files=3) as log:
        for number in range(1000):
            log.write(f"line {number}")
        log.write("x" * 100_000)
        log.write("the newest")
    files = sorted(tmp_path.iterdir())
    assert [path.name for path in files] == ["a.log", "a.log.1", "a.log.2"]
    assert sum(path.stat().st_size for path in files) < 15_000
    text = "".join(path.read_text() for path in reversed(files))
    assert text.endswith("the newest\n") and "line 999" in text and "line 0\n" not in text


def test_a_log_whose_disk_is_full_takes_up_again_when_there_is_room(tmp_path):
    (tmp_path / "folder").mkdir()
    log = LogFile(tmp_path / "folder" / "a.log")
    (tmp_path / "folder").rmdir()
    log.write("lost")
    (tmp_path / "folder").mkdir()
    log.write("kept")
    log.close()
    assert (tmp_path / "folder" / "a.log").read_text() == "kept\n"
    with LogFile(Path("/dev/full")) as full:
        full.write("lost")


def test_a_deaf_child_is_killed_after_its_time_and_the_person_is_told(supervisor, said, tmp_path):
    child = supervisor.start(
        python(
            "worker",
            DEAF,
            stop_within_s=0.3,
            ready=lambda: wrote(tmp_path / "worker.log", "deaf"),
        )
    )
    supervisor.stop_all()
    assert said == ["  worker did not stop within 0 s and was killed"]
    assert not alive(child.pid)


def test_stop_during_a_start_does_not_wait_for_readiness(supervisor):
    supervisor.request_stop()
    begin = time.monotonic()
    supervisor.start(python("service", FOREVER, ready=lambda: False, ready_within_s=30))
    assert time.monotonic() - begin < 5


def test_output_goes_to_a_log_named_for_the_child(tmp_path):
    child = Child(python("service", "print('100 % done')"), tmp_path)
    assert child.wait_or_kill()
    assert (tmp_path / "service.log").read_text() == "100 % done\n"
    assert child.last_lines() == ["100 % done"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child that its parent was killed")
def test_a_killed_supervisor_leaves_no_orphan(tmp_path):
    code = (
        "import os, sys, time; from pathlib import Path\n"
        "from deploy.up.child import ChildSpec; from deploy.up.supervisor import Supervisor\n"
        f"spec = ChildSpec('dummy', [sys.executable, '-c', {FOREVER!r}], os.environ)\n"
        f"print(Supervisor(Path({str(tmp_path)!r}), print).start(spec).pid, flush=True); time.sleep(600)"
    )
    root = Path(__file__).parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=root, stdout=subprocess.PIPE, text=True
    ) as parent:
        pid = int(parent.stdout.readline())
        assert alive(pid)
        parent.kill()
    assert wait_until(lambda: not alive(pid), within_s=10, still_hopeful=lambda: True)
