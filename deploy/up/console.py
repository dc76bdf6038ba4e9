"""What the person who starts the stack sees: one line a step, then the address and the credentials once."""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from deploy.up.settings import UpSettings

CAUTION = (
    "A pressure-temperature check screens; it proves nothing about moisture, acid, oil or small\n"
    "amounts of another refrigerant. Never heat a cylinder above 52 °C (125 °F). Only certified\n"
    "technicians handle refrigerant; local codes and the cylinder's own marks rule."
)


def say(line: str) -> None:
    """Print a line at once, also into a pipe."""
    print(line, flush=True)


def complain(line: str) -> None:
    """Print a line where errors go."""
    print(line, file=sys.stderr, flush=True)


def step(name: str, told: str) -> None:
    """Print one step of the start."""
    say(f"  {name:<9} {told}")


def welcome(
    settings: UpSettings,
    first_run: Mapping[str, Any] | None,
    path: Path,
    *,
    fresh: bool,
    running: bool = True,
) -> None:
    """Print the board's address, and the first-run password when it was made just now."""
    say("")
    say(f"  Board     {settings.base_url}")
    if first_run is None:
        say(f"  Sign in   as before ({path} is gone; `.venv/bin/heelmark token create` makes new tokens)")
    elif fresh:
        say(f"  Sign in   user {first_run['board']['user']}, password {first_run['board']['password']}")
        say("            shown this once; with the API tokens and the broker's password it is kept,")
        say(f"            for your eyes only, in {path}")
    else:
        say(f"  Sign in   user {first_run['board']['user']}; the first-run password is in {path}")
    broker = f"{settings.reachable_host}:{settings.mqtt_port}"
    say(f"  Readings  MQTT {broker}, topic {settings.mqtt_root}/PLACE/readings/DEVICE")
    say("")
    say(CAUTION)
    if running:
        say("")
        say("Running. Ctrl-C stops everything; the data stay.")
