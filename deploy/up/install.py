"""`up --install`: a unit of systemd that starts the stack with the machine, of root or of whoever asks for it."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from deploy.up.console import say
from deploy.up.refusal import StartRefused

NAME = "heelmark-up.service"
SECRET = re.compile(r"HEELMARK_\w*(PASSWORD|SECRET_KEY|TOKEN|DATABASE_URL)")
"""Settings whose value nobody else may read; each may name a file instead (`..._FILE`)."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a unit belongs: the system's, started with the machine, or one person's."""

    folder: Path
    manager: tuple[str, ...]
    target: str


SYSTEM = Place(Path("/etc/systemd/system"), ("systemctl",), "multi-user.target")


def of_person(environ: Mapping[str, str]) -> Place:
    """Where the units of the person are (`systemd.unit(5)`)."""
    config = environ.get("XDG_CONFIG_HOME") or f"{environ.get('HOME', '')}/.config"
    return Place(Path(config) / "systemd" / "user", ("systemctl", "--user"), "default.target")


def unit(place: Place, base: Path, environ: Mapping[str, str], options: list[str]) -> str:
    """Write the unit.

    Parameters
    ----------
    place : Place
        Whose it is.
    base : Path
        Where the stack is started: the checkout, or the folder of the data.
    environ : Mapping[str, str]
        Of which the settings of Heelmark are kept.
    options : list of str
        What `up` was asked for.

    Raises
    ------
    StartRefused
        When a secret stands in the environment: a unit can be read by everybody.
    """
    kept = {name: value for name, value in sorted(environ.items()) if name.startswith("HEELMARK_")}
    if secret := next((name for name in kept if SECRET.fullmatch(name)), None):
        raise StartRefused(
            f"{secret} is set, and anybody can read a unit; name a file with {secret}_FILE instead"
        )
    lines = [f"Environment={_quoted(f'{name}={value}')}" for name, value in kept.items()]
    command = " ".join(map(_quoted, (sys.executable, "-m", "deploy.up", *options)))
    return "\n".join(
        [
            "# Written by `up --install`, and again by the next one.",
            "[Unit]",
            "Description=Heelmark, all of it on this machine",
            "After=network-online.target",
            "Wants=network-online.target",
            "",
            "[Service]",
            f"WorkingDirectory={str(base).replace('%', '%%')}",
            *lines,
            f"ExecStart={command}",
            "Restart=on-failure",
            "RestartSec=10",
            "KillMode=mixed",
            "TimeoutStopSec=90",
            "",
            "[Install]",
            f"WantedBy={place.target}",
            "",
        ]
    )


def _quoted(word: str) -> str:
    """A word as `systemd.syntax(7)` takes it."""
    if any(ord(character) < 0x20 for character in word):
        raise StartRefused(f"{word!r} has a line break or a control character, which a unit cannot hold")
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{escaped}"'


def install(place: Place, text: str) -> None:
    """Keep the unit, start it now and with the machine.

    Raises
    ------
    StartRefused
        When there is no systemd, or it does not take the unit.
    """
    if shutil.which("systemctl") is None:
        raise StartRefused("--install needs systemd, and there is no systemctl on this machine")
    place.folder.mkdir(parents=True, exist_ok=True)
    path = place.folder / NAME
    path.write_text(text, encoding="utf-8")
    path.chmod(0o644)
    _run(*place.manager, "daemon-reload")
    if place != SYSTEM:
        # Without it a person's units start when that person signs in.
        _run("loginctl", "enable-linger")
    _run(*place.manager, "enable", NAME)
    _run(*place.manager, "restart", NAME)
    manager = " ".join(place.manager)
    say(f"\nIt runs now, and starts with the machine: {path}")
    say(f"  how it is   {manager} status {NAME}")
    say(f"  end it      {manager} disable --now {NAME}")


def place_here() -> Place:
    """The system's for root, else the person's own."""
    return SYSTEM if os.geteuid() == 0 else of_person(os.environ)


def _run(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise StartRefused(f"`{' '.join(command)}` failed: {(done.stderr or done.stdout).strip()[-300:]}")
