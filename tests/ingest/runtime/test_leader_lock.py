"""A standby waits for an owner that works, and for no other."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from ingest.runtime.leader_lock import STANDSTILL_S, LeaderLock, wait_for_turn

OWNER = """
import sys, time
from pathlib import Path
from ingest.runtime.leader_lock import BEAT_S, LeaderLock
mine = LeaderLock(Path(sys.argv[1]))
while True:
    mine.beat()
    print("beat", flush=True)
    time.sleep(BEAT_S)
"""


@pytest.fixture
def owner(tmp_path: Path) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen([sys.executable, "-c", OWNER, str(tmp_path)], stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.readline()
    yield process
    process.kill()
    process.wait()
    process.stdout.close()


def in_background(folder: Path) -> tuple[threading.Thread, list[bool], threading.Event]:
    told: list[bool] = []
    stop = threading.Event()
    leader_lock = LeaderLock(folder)
    thread = threading.Thread(
        target=lambda: told.append(wait_for_turn(leader_lock, stop.is_set)), daemon=True
    )
    thread.start()
    return thread, told, stop


def test_the_first_does_not_wait(tmp_path: Path) -> None:
    assert wait_for_turn(LeaderLock(tmp_path), lambda: False)


def test_an_owner_that_works_is_waited_for_and_one_killed_is_replaced_at_once(
    tmp_path: Path, owner: subprocess.Popen[bytes]
) -> None:
    thread, told, _ = in_background(tmp_path)
    time.sleep(2.0 * STANDSTILL_S)
    assert told == []
    assert owner.poll() is None
    owner.kill()
    thread.join(10.0)
    assert told == [True]


def test_an_owner_that_stands_still_is_ended_and_replaced(
    tmp_path: Path, owner: subprocess.Popen[bytes]
) -> None:
    thread, told, _ = in_background(tmp_path)
    owner.send_signal(signal.SIGSTOP)
    thread.join(20.0)
    assert told == [True]
    assert owner.wait(5) == -signal.SIGKILL


def test_the_kernel_tells_who_holds_the_lock(tmp_path: Path, owner: subprocess.Popen[bytes]) -> None:
    leader_lock = LeaderLock(tmp_path)
    assert not leader_lock.take()
    assert leader_lock.holder() == owner.pid != os.getpid()
    owner.kill()
    owner.wait()
    assert leader_lock.holder() == 0
    assert leader_lock.take()


def test_a_standby_stops_when_asked(tmp_path: Path, owner: subprocess.Popen[bytes]) -> None:
    thread, told, stop = in_background(tmp_path)
    stop.set()
    thread.join(5.0)
    assert told == [False]
    assert owner.poll() is None
