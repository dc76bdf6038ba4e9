"""kill -9 of the worker in the middle: what it then says is what an undisturbed worker says."""

import json
import os
import signal
import time
from datetime import UTC, datetime

import pytest

from tests.acceptance.readings import packs
from tests.support.stack import Stack, wait_for

pytestmark = [pytest.mark.slow, pytest.mark.broker]
SERIALS = ("S-101", "S-102", "S-104", "V1-201")
HOURS = 7.0
COMPARED = ("temperature_c", "absolute_pressure_kpa", "temperature_uncertainty_k", "settled_at", "from", "to")


@pytest.fixture(scope="module", params=["mosquitto", "amqtt"])
def stack(request, tmp_path_factory):
    stack = Stack(tmp_path_factory.mktemp("killed") / "var", HEELMARK_BROKER=request.param)
    try:
        yield stack.start()
    finally:
        stack.end()


def test_nothing_accepted_is_lost_and_nothing_comes_twice(stack):
    for place in ("van-1",):
        stack.call("POST", "/places", "supervisor", json={"name": place, "kind": "van", "elevation_m": 180})
    began_at = float(int(time.time() - HOURS * 3600.0 - 60.0))
    calm = hook_up(stack, "calm", began_at)
    stormy = hook_up(stack, "stormy", began_at)
    wait_for(lambda: worker_status(stack)["sessions"] == 2 * len(SERIALS), within_s=30)
    stack.publish(calm)
    wait_for(lambda: at_rest(stack, len(calm)), within_s=120)
    undisturbed = pairs(stack, "calm")
    assert all(len(found) >= 2 for found in undisturbed.values()), undisturbed

    third = len(stormy) // 3
    for part in (stormy[:third], stormy[third : 2 * third], stormy[2 * third :]):
        stack.publish(part)
        killed = stack.children()["worker"].pid
        os.kill(killed, signal.SIGKILL)
        wait_for(
            lambda killed=killed: (one := stack.children().get("worker")) and one.pid != killed, within_s=30
        )
    wait_for(lambda: at_rest(stack, len(calm) + len(stormy)), within_s=120)
    assert pairs(stack, "stormy") == undisturbed
    assert stack.output().count("The worker ended (killed by SIGKILL)") == 3


def hook_up(stack, name, began_at):
    """Register a cylinder and a device for each serial; the packs that its device has to tell, in order of time."""
    found = []
    for number, serial in enumerate(SERIALS):
        device, own = f"urn:dev:ops:32473-{name}-{number}", f"{name}-{serial}"
        place = "shop" if serial.startswith("S") else "van-1"
        body = {
            "serial": own,
            "marks": "DOT-4BA400",
            "water_capacity_kg": 21.6,
            "tare_kg": 12.7,
            "place": place,
        }
        stack.post("/cylinders", body)
        since = datetime.fromtimestamp(began_at, UTC).isoformat()
        hookup = {"cylinder": own, "pressure_device": device, "temperature_device": device, "from": since}
        stack.post("/hookups", {**hookup, "valve": "vapour"})
        found += packs(serial, device, began_at, HOURS, seed=number)
    return sorted(found, key=lambda pack: pack[2][0]["bt"])


def pairs(stack, name):
    """All settled pairs of the named cylinders, by what they say."""
    found = {}
    for serial in SERIALS:
        items = stack.get(f"/cylinders/{name}-{serial}/pairs", provisional="false", limit="100")["items"]
        found[serial] = sorted(tuple(item[field] for field in COMPARED) for item in items)
    return found


def worker_status(stack):
    return json.loads((stack.data / "worker" / "status.json").read_text(encoding="utf-8"))


def at_rest(stack, taken):
    """every pack in the inbox and every pair posted"""
    status = worker_status(stack)
    return status["inbox_seq"] >= taken and not status["outbox"].get("waiting", 0)
