"""The supervisor with dummy children: order, readiness, deaths, stopping, no orphans."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from deploy.up import supervisor as supervisor_module
from deploy.up.child import Child, ChildSpec
from deploy.up.ports import wait_until
from deploy.up.refusal import StartRefused
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
    one = Supervisor(tmp_path, said.append)
    yield one
    one.stop_all()


def test_children_are_stopped_in_the_opposite_order_and_none_is_left(supervisor, said):
    pids = [supervisor.start(python(name, FOREVER)).pid for name in ("broker", "service", "worker")]
    supervisor.stop_all()
    assert said == ["  worker stopped", "  service stopped", "  broker stopped"]
    assert not any(alive(pid) for pid in pids)


def test_a_child_that_ends_before_it_is_ready_is_named_with_its_last_lines(supervisor):
    spec = python("worker", "print('no such token'); raise SystemExit(3)", ready=lambda: False)
    with pytest.raises(StartRefused, match=r"(?s)the worker did not start \(exit code 3\).*\| no such token"):
        supervisor.start(spec)


def test_a_child_that_stays_silent_is_named(supervisor):
    with pytest.raises(StartRefused, match=r"the service did not start \(not ready within 0 s\)"):
        supervisor.start(python("service", FOREVER, ready=lambda: False, ready_within_s=0.3))


def test_a_child_that_dies_is_started_again_and_the_person_is_told(supervisor, said):
    first = supervisor.start(python("worker", FOREVER))
    watcher = threading.Thread(target=supervisor.watch)
    watcher.start()
    os.kill(first.pid, signal.SIGKILL)
    assert wait_until(lambda: bool(said), within_s=10, still_hopeful=lambda: True)
    supervisor.request_stop()
    watcher.join(10)
    assert said[0].startswith("The worker died (killed by SIGKILL); starting it again (1 of 3).")


def test_a_child_that_keeps_dying_ends_the_watch(supervisor, said):
    supervisor.start(python("worker", "import time; time.sleep(0.3); print('inbox is corrupt')"))
    with pytest.raises(
        StartRefused, match=r"(?s)the worker died \(exit code 0\), 4 times within a minute.*inbox is corrupt"
    ):
        supervisor.watch()
    assert len(said) == supervisor_module.RESTARTS


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
