"""A pack of a new device is seen as unattached, hooked up over REST, and ends in a verdict."""

import json
import shutil
import subprocess
import time
from datetime import UTC, datetime

import pytest

from tests.acceptance.readings import packs
from tests.support.stack import wait_for

pytestmark = pytest.mark.slow
DEVICE, SERIAL = "urn:dev:ops:32473-handheld-8", "N-1"
# Stamped half an hour ago: what is older than a device's newest reading is late and is not taken.
BEGAN_AT = time.time() - 1800.0
PACK = [
    {"bt": BEGAN_AT - 1.0, "bn": f"{DEVICE}:", "n": "gauge-pressure", "u": "Pa", "v": 806000},
    {"n": "wall-temperature", "u": "Cel", "v": 20},
]


@pytest.mark.skipif(shutil.which("mosquitto_pub") is None, reason="no mosquitto_pub on the path")
def test_from_a_published_pack_to_a_verdict(demo_stack):
    publish_as_a_person_would(demo_stack)
    sighting = wait_for(lambda: unattached(demo_stack), within_s=30)
    assert sighting["readings"]["gauge-pressure"]["value"] == 806000
    assert sighting["readings"]["gauge-pressure"]["unit"] == "Pa"

    hook_up(demo_stack)
    demo_stack.publish(packs("S-101", DEVICE, BEGAN_AT, 0.49, seed=5))
    found = wait_for(lambda: verdict(demo_stack), within_s=60)
    assert "R-22" in [candidate["designation"] for candidate in found["identity"]["candidates"]]
    attached = demo_stack.get("/devices", attached="true", limit="100")["items"]
    assert DEVICE in [item["device"] for item in attached]


def publish_as_a_person_would(stack):
    told = stack.first_run["mqtt"]
    topic = f"{told['root']}/shop/readings/{DEVICE}"
    command = [
        *("mosquitto_pub", "-h", told["host"], "-p", str(told["port"])),
        *("-u", told["user"], "-P", told["password"], "-q", "1", "-t", topic, "-m", json.dumps(PACK)),
    ]
    subprocess.run(command, check=True)


def unattached(stack):
    """the device among those seen and unattached"""
    items = stack.get("/devices", attached="false", limit="100")["items"]
    return next((item for item in items if item["device"] == DEVICE), None)


def hook_up(stack):
    marks = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7}
    stack.post("/cylinders", {"serial": SERIAL, "place": "shop", "claimed_designation": "R-22", **marks})
    devices = {"pressure_device": DEVICE, "temperature_device": DEVICE}
    since = datetime.fromtimestamp(BEGAN_AT - 2.0, UTC).isoformat()
    stack.post("/hookups", {"cylinder": SERIAL, **devices, "valve": "vapour", "from": since})


def verdict(stack):
    """a verdict on the new cylinder"""
    answer = stack.call("GET", f"/cylinders/{SERIAL}/verdict", "reader")
    return answer.json() if answer.ok else None
