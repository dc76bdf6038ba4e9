"""A PostgreSQL server of our own for tests, wherever its programs are; nothing of it is left behind."""

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest

FOLDERS = ["/usr/local/bin", "/usr/bin", *(str(p) for p in sorted(Path("/usr/lib/postgresql").glob("*/bin")))]


def program(name: str) -> str | None:
    """Where a program of PostgreSQL is; servers are rarely on the path."""
    found = shutil.which(name)
    if found:
        return found
    return next((str(p) for folder in reversed(FOLDERS) if (p := Path(folder) / name).exists()), None)


def _as_nobody_in_particular() -> dict[str, Any]:
    """The server refuses to run as root."""
    if os.getuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    return {}


@contextmanager
def postgres_server() -> Iterator["PostgresServer"]:
    """A running server; skips the test by name when there is none to run."""
    initdb, postgres = program("initdb"), program("postgres")
    if initdb is None or postgres is None:
        pytest.skip("no PostgreSQL server is installed")
    user = _as_nobody_in_particular()
    with tempfile.TemporaryDirectory(prefix="pg-") as name, socket.create_server(("127.0.0.1", 0)) as free:
        folder, port = Path(name), free.getsockname()[1]
        free.close()
        if user:
            os.chown(folder, user["user"], user["group"])
        quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": folder}
        data = str(folder / "data")
        arguments = [
            "--pgdata",
            data,
            "--username",
            "heelmark",
            "--auth",
            "trust",
            "--no-sync",
            "--no-instructions",
        ]
        subprocess.run(
            [initdb, *arguments, "--encoding", "UTF8", "--locale", "C.UTF-8"], check=True, **quiet, **user
        )
        options = {
            "listen_addresses": "127.0.0.1",
            "port": str(port),
            "unix_socket_directories": "",
            "fsync": "off",
            "shared_buffers": "32MB",
        }
        flags = [part for key, value in options.items() for part in ("-c", f"{key}={value}")]
        process = subprocess.Popen([postgres, "-D", data, *flags], **quiet, **user)
        try:
            yield PostgresServer(port, process)
        finally:
            process.send_signal(signal.SIGINT)  # fast shutdown: does not wait for clients
            process.wait(20)


class PostgresServer:
    """Makes empty databases."""

    def __init__(self, port: int, process: "subprocess.Popen[bytes]") -> None:
        self.port = port
        self._admin = f"postgresql://heelmark@127.0.0.1:{port}/postgres"
        for _ in range(200):
            try:
                psycopg.connect(self._admin).close()
                return
            except psycopg.OperationalError:
                if process.poll() is not None:
                    raise
                time.sleep(0.05)
        raise TimeoutError("PostgreSQL did not start within 10 s")

    def fresh_url(self) -> str:
        """The URL of a new, empty database."""
        name = f"t{uuid.uuid4().hex}"
        with psycopg.connect(self._admin, autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql://heelmark@127.0.0.1:{self.port}/{name}"
