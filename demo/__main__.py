"""`python -m demo run` publishes simulated cylinders; `check` compares verdict and truth, and looks for every cause."""

import argparse
import json
import os
import signal
import sys
import time
from pathlib import Path
from threading import Event
from types import FrameType
from typing import Any

import requests

from demo.check import check
from demo.gateways import Gateways, gateway_users
from demo.publisher import publish, resume, save
from demo.registration import Api, Refused, register
from demo.scenario import Scenario, load_scenario
from demo.troubles import register_troubled

CLOCK = "clock.json"


def main() -> int:
    """Run a command; exit code 1 with a sentence when it cannot."""
    parser = argparse.ArgumentParser(prog="python -m demo", description=__doc__)
    parser.add_argument("command", choices=("run", "check"))
    command = parser.parse_args().command
    data = Path(os.environ.get("HEELMARK_DATA") or "var")
    try:
        first_run = json.loads((data / "first-run.json").read_text(encoding="utf-8"))
    except OSError as fault:
        print(
            f"{data / 'first-run.json'}: {fault.strerror}; start `sh deploy/up.sh --demo` first",
            file=sys.stderr,
        )
        return 1
    try:
        if command == "run":
            return run(first_run, data)
        scenario = load_scenario()
        return check(_api(first_run, "reader"), scenario, _age_min(data, scenario))
    except requests.ConnectionError:
        print(
            f"nothing answers at {first_run['base_url']}; is `sh deploy/up.sh --demo` running?",
            file=sys.stderr,
        )
        return 1
    except (Refused, OSError) as fault:
        print(fault, file=sys.stderr)
        return 1


def run(first_run: dict[str, Any], data: Path) -> int:
    """Register and publish until SIGTERM or Ctrl-C."""
    stop = Event()

    def ask_to_stop(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, ask_to_stop)
    scenario, kept = load_scenario(), data / "demo" / CLOCK
    clock = resume(kept, time.time(), scenario.hours_in_the_past)
    api = _api(first_run, "supervisor")
    fresh = register(api, scenario, clock.began_at)
    fresh += register_troubled(api, clock.began_at)
    print(f"{fresh} cylinders registered again", flush=True)
    save(kept, clock)
    users = gateway_users(api, scenario.places, data / "demo" / "gateways.json")
    gateways = Gateways(first_run["mqtt"], users)
    try:
        publish(scenario, gateways, clock, kept, stop, lambda line: print(line, flush=True), api)
    finally:
        gateways.close()
    return 0


def _age_min(data: Path, scenario: Scenario) -> float:
    """Since the demo began, by the clock that it keeps [min]; 0 where it keeps none yet."""
    kept = data / "demo" / CLOCK
    if not kept.exists():
        return 0.0
    began_at = json.loads(kept.read_text(encoding="utf-8"))["began_at"]
    return float(time.time() - began_at) / 60.0 - 60.0 * scenario.hours_in_the_past


def _api(first_run: dict[str, Any], scope: str) -> Api:
    return Api(first_run["base_url"], first_run["tokens"][scope])


if __name__ == "__main__":
    sys.exit(main())
