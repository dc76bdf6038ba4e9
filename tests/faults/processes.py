"""What a storm kills, freezes and sets the clock of: PostgreSQL, the service and the worker as processes."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import psycopg
import pytest
import requests

from tests.faults.disk import Disk
from tests.support.broker import free_port
from tests.support.postgres import _as_nobody_in_particular as unprivileged
from tests.support.postgres import program
from tests.support.waiting import came

DATABASE_DISK_MB = 400
BIN = Path(sys.executable).parent
QUIET: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
needs_postgres = pytest.mark.skipif(
    program("initdb") is None, reason="no PostgreSQL server is installed (initdb)"
)


def wait_for(what: Callable[[], object], timeout_s: float) -> bool:
    """Wait as `came` does for something that cannot even be asked while its server is away."""

    def asked() -> object:
        with contextlib.suppress(OSError, ValueError, requests.RequestException, psycopg.Error):
            return what()
        return False

    return came(asked, timeout_s)


class MachineTime:
    """The wall clock that one process sees, set by a small preloaded library of ours; monotonic time goes on."""

    SOURCE = Path(__file__).with_name("machine_clock.c")

    def __init__(self, file: Path) -> None:
        self.file, self.library = file, file.with_suffix(".so")
        self.set(0)
        if self.compiler() is not None:
            command = [str(self.compiler()), "-shared", "-fPIC", "-O1", "-o", str(self.library)]
            subprocess.run([*command, str(self.SOURCE), "-ldl"], check=True)

    @staticmethod
    def compiler() -> str | None:
        """Where a C compiler is, or None: then no clock can be set."""
        return shutil.which("cc") or shutil.which("gcc")

    def set(self, ahead_s: int) -> None:
        """Set the clock so far ahead of the true one, [s]; a process sees it at its next look."""
        if not self.file.exists():
            self.file.write_bytes(bytes(8))
        with self.file.open("r+b", buffering=0) as file:
            file.write(ahead_s.to_bytes(8, sys.byteorder, signed=True))

    def environ(self) -> dict[str, str]:
        """What a process needs in its environment to see this clock."""
        if not self.library.exists():
            return {}
        return {"LD_PRELOAD": str(self.library), "STORM_CLOCK": str(self.file)}


class Process:
    """A process group of ours that can be killed with -9, stopped with SIGSTOP and started again."""

    def __init__(self, command: list[str], environ: dict[str, str], log: Path) -> None:
        self.command, self.environ, self.log = command, environ, log
        self.running: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it; it is not waited for."""
        with self.log.open("ab") as log:
            self.running = subprocess.Popen(
                self.command, env=self.environ, stdout=log, stderr=log, start_new_session=True
            )

    def signal(self, number: int) -> None:
        """Send a signal to all of it."""
        if self.running is not None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.running.pid, number)

    def kill(self) -> None:
        """End it with -9, with its children."""
        self.signal(signal.SIGKILL)
        if self.running is not None:
            self.running.wait()

    @property
    def exit_code(self) -> int | None:
        """With what it has ended by itself, or None while it runs."""
        return None if self.running is None else self.running.poll()


class Postgres:
    """A PostgreSQL of our own; its processes are sessions of their own, so each is stopped by itself."""

    def __init__(self) -> None:
        self.folder, self.port = Path(tempfile.mkdtemp(prefix="pg-")), free_port()
        self.user, self.disk = unprivileged(), Disk(self.folder / "disk", DATABASE_DISK_MB)
        if self.user:
            for path in (self.folder, self.disk.folder):
                os.chown(path, self.user["user"], self.user["group"])
        self.data = self.disk.folder / "data"
        self.url = f"postgresql://heelmark@127.0.0.1:{self.port}/postgres"
        data, flags = str(self.data), ["--no-sync", "--no-instructions", "--encoding", "UTF8"]
        who = ["--username", "heelmark", "--auth", "trust", "--locale", "C.UTF-8"]
        command = [str(program("initdb")), "--pgdata", data, *who, *flags]
        subprocess.run(command, check=True, cwd=self.folder, **QUIET, **self.user)
        # Nothing of what it was made of is to be missing after a loss of power.
        subprocess.run(["sync", "--file-system", data], check=True)
        self.process: psutil.Popen | None = None

    def start(self) -> None:
        """Start it on what it had written, and wait until it answers."""
        # A process that is killed has handed its writes over; fsync is for a machine that dies.
        fsync = "on" if self.disk.is_own else "off"
        options = [
            "listen_addresses=127.0.0.1",
            f"port={self.port}",
            "unix_socket_directories=",
            f"fsync={fsync}",
            "max_wal_size=64MB",
        ]
        flags = [part for option in options for part in ("-c", option)]
        command = [str(program("postgres")), "-D", str(self.data), *flags]
        for _ in range(20):
            self.process = psutil.Popen(command, cwd=self.folder, **QUIET, **self.user)
            if wait_for(lambda: self.answers() or self.process.poll() is not None, 30.0) and self.answers():
                return
        raise RuntimeError("PostgreSQL did not start")

    def answers(self) -> bool:
        """Whether it takes connections."""
        with contextlib.suppress(psycopg.Error), psycopg.connect(self.url, connect_timeout=2):
            return True
        return False

    def _all(self) -> list[psutil.Process]:
        if self.process is None:
            return []
        with contextlib.suppress(psutil.Error):
            return [self.process, *self.process.children(recursive=True)]
        return []

    def signal(self, number: int) -> None:
        """Send a signal to the server and to each of its children."""
        for one in self._all():
            with contextlib.suppress(psutil.Error):
                one.send_signal(number)

    def kill(self) -> None:
        """End it with -9, with its children."""
        everyone = self._all()
        for one in everyone:
            with contextlib.suppress(psutil.Error):
                one.kill()
        psutil.wait_procs(everyone, timeout=10)

    def empty(self) -> None:
        """Lose everything in it."""
        with psycopg.connect(self.url, autocommit=True) as connection:
            connection.execute("SET lock_timeout = '30s'")
            connection.execute("DROP SCHEMA public CASCADE")
            connection.execute("CREATE SCHEMA public")

    def remove(self) -> None:
        """End it and leave nothing behind."""
        self.kill()
        self.disk.remove()
        shutil.rmtree(self.folder, ignore_errors=True)


class Service(Process):
    """The service as it is run: gunicorn with its own configuration, over the database behind `database_port`."""

    def __init__(self, folder: Path, database_url: str, through_url: str, clock: MachineTime) -> None:
        self.port, self.folder = free_port(), folder
        (folder / "service").mkdir(exist_ok=True)
        plain = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")}
        self.direct = plain | {
            "TMPDIR": str(folder),
            "HEELMARK_DATA": str(folder / "service"),
            "HEELMARK_DATABASE_URL": database_url,
            "HEELMARK_HTTP_PORT": str(self.port),
            "HEELMARK_STREAM_CAP": "4",
        }
        self._command("migrate")
        self._command("first-run", "--output", str(folder / "first-run.json"))
        self.tokens = json.loads((folder / "first-run.json").read_text())["tokens"]
        environ = self.direct | {"HEELMARK_DATABASE_URL": through_url} | clock.environ()
        command = [str(BIN / "gunicorn"), "--config", "python:service.serving", "service.wsgi:app"]
        super().__init__(command, environ, folder / "service.log")

    def _command(self, *arguments: str) -> None:
        command = [str(BIN / "heelmark"), *arguments]
        done = subprocess.run(command, env=self.direct, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr[-2000:]

    def ready(self) -> bool:
        """Whether it answers."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=1.0):
            pass
        return requests.get(f"http://127.0.0.1:{self.port}/healthz", timeout=3).ok

    def call(self, method: str, path: str, scope: str, **more: Any) -> Any:
        """One request that must succeed."""
        headers = {"Authorization": f"Bearer {self.tokens[scope]}"}
        url = f"http://127.0.0.1:{self.port}/api/v1{path}"
        answer = requests.request(method, url, headers=headers, timeout=30, **more)
        assert answer.ok, answer.text
        return answer.json()
