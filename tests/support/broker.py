"""A Mosquitto process of our own for tests, on a free port of 127.0.0.1."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path

import pytest


def mosquitto() -> str | None:
    """Return where Mosquitto is, or None."""
    return shutil.which("mosquitto") or next(
        (path for path in ("/usr/sbin/mosquitto", "/usr/local/sbin/mosquitto") if Path(path).exists()), None
    )


needs_mosquitto = pytest.mark.skipif(mosquitto() is None, reason="no mosquitto on this machine")


def free_port() -> int:
    """Return a port that nobody uses just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Broker:
    """One Mosquitto; `persistent` keeps its sessions on disk at every change."""

    def __init__(self, folder: Path, port: int | None = None, *, persistent: bool = False) -> None:
        self.port = port or free_port()
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        lines = [
            f"listener {self.port} 127.0.0.1",
            "allow_anonymous true",
            "max_queued_messages 1000000",
            "max_inflight_messages 1000",
            "log_type error",
            "set_tcp_nodelay true",
            f"persistence {'true' if persistent else 'false'}",
        ]
        if persistent:
            lines += [f"persistence_location {folder}/", "autosave_on_changes true", "autosave_interval 1"]
        self.config = folder / "mosquitto.conf"
        self.config.write_text("\n".join(lines) + "\n")
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> Broker:
        """Start it and wait until it takes connections."""
        program = mosquitto()
        assert program is not None
        # As root Mosquitto would become its own user, who may not write here.
        command = [program, "-c", str(self.config)]
        self.config.write_text(self.config.read_text().replace("user root\n", "") + "user root\n")
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 10
        while time.monotonic() < deadline:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return self
            time.sleep(0.02)
        raise RuntimeError("mosquitto did not start")

    def kill(self) -> None:
        """End it with -9."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    def stop(self) -> None:
        """End it politely."""
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(timeout=10)
            self.process = None
