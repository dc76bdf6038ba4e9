"""The assistant: from a message of any shape to a mapping that reads it, without script."""

import json
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from service.mappings.choices import document_of, proposed
from service.mappings.mapping import parse
from service.mappings.proposing import leaves
from service.mappings.trial import try_on
from service.operations import mappings, not_understood
from service.operations.not_understood import Unread
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.board.conftest import Visitor
from tests.support.live_batches import heard, unread

FLAT = {"ps": {"press_psi": 136.6}, "tempF": 76.6, "batt": 81, "ts": 0, "fw": "1.2"}


def say(services: Services, actor: Actor, topic: str, message: object) -> int:
    at = services.now()
    one = Unread(
        topic, "topic", "is of no mapping", json.dumps(message)[:400], False, 1, at, at, None, topic, message
    )
    with services.database.writing(actor.organisation_id) as work:
        not_understood.note(work, [one], at)
    return not_understood.listed(services, actor, PageRequest(1)).items[0].id


def fields(page: str) -> dict[str, str]:
    """What a browser would send of the page as it stands."""
    form = page[page.index('class="assistant"') :]
    found = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    found |= dict(re.findall(r'<input id="f-[^"]+" name="([^"]+)"[^>]*value="([^"]*)"', form))
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
        found[name] = chosen[1] if chosen else ""
    return {unescape(name): unescape(value) for name, value in found.items() if name != "csrf"}


@pytest.fixture
def supervisor_at(person: Callable[[str], Visitor]) -> Visitor:
    return person("supervisor")


def test_a_flat_object_is_read_as_guessed_and_kept(
    supervisor_at: Visitor, services: Services, actor: Actor, worker: FlaskClient
) -> None:
    worker.put("/api/v1/live", json=heard("clamp-9", at=services.now()))
    message = {**FLAT, "ts": int(services.now().timestamp() * 1000)}
    number = say(services, actor, "yard/shop/gauge-3/state", message)
    assert f'href="/devices/unread/{number}"' in supervisor_at.get("/devices").text
    page = supervisor_at.get(f"/devices/unread/{number}").text
    assert "gauge pressure 136.6\u202fpsi" in page and "wall temperature 76.6\u202f°F" in page
    assert "others say 75.2\u202f°F (clamp-9)" in page
    kept = supervisor_at.send(f"/devices/unread/{number}", **fields(page), step="save")
    assert kept.status_code == 303
    (stored,) = mappings.listed(services, actor, PageRequest()).items
    assert stored.document == {
        "name": "yard-shop-gauge-3-state",
        "topic": "yard/{place}/{device}/state",
        "time": {"path": "ts", "form": "unix-ms"},
        "value": [
            {"quantity": "gauge-pressure", "path": "ps.press_psi", "unit": "[psi]"},
            {"quantity": "wall-temperature", "path": "tempF", "unit": "[degF]"},
            {"quantity": "battery", "path": "batt", "unit": "%"},
        ],
    }
    assert "Heard, not understood" not in supervisor_at.get("/devices").text


def test_fahrenheit_taken_for_celsius_is_asked_about(
    supervisor_at: Visitor, services: Services, actor: Actor
) -> None:
    number = say(services, actor, "yard/shop/gauge-3", {"temperature": 76})
    page = supervisor_at.get(f"/devices/unread/{number}").text
    celsius = {**fields(page), "unit-0": "Cel"}
    assert (
        "Is this 76 °F, not °C?"
        in supervisor_at.send(f"/devices/unread/{number}", **celsius, step="look").text
    )
    fahrenheit = {**fields(page), "unit-0": "[degF]"}
    assert "Is this" not in supervisor_at.send(f"/devices/unread/{number}", **fahrenheit, step="look").text


def test_a_gauge_that_speaks_psi_in_senml_is_mended_on_its_own_topic(
    supervisor_at: Visitor, services: Services, actor: Actor, worker: FlaskClient, tmp_path: Path
) -> None:
    psi = b'[{"bn":"urn:dev:mac:7:","n":"gauge-pressure","u":"psi","v":118}]'
    worker.put("/api/v1/live", json=unread(tmp_path, "urn:dev:mac:7", services.now(), psi))
    number = not_understood.listed(services, actor, PageRequest(1)).items[0].id
    page = supervisor_at.get(f"/devices/unread/{number}").text
    assert supervisor_at.send(f"/devices/unread/{number}", **fields(page), step="save").status_code == 303
    (stored,) = mappings.listed(services, actor, PageRequest()).items
    assert stored.document is not None
    assert stored.document["topic"] == "heelmark/{place}/readings/{device}"
    assert stored.document["value"][0]["unit"] == "[psi]"


def test_a_shipped_mapping_that_reads_it_is_offered(
    supervisor_at: Visitor, services: Services, actor: Actor
) -> None:
    number = say(
        services, actor, "vans/van-7/gauge-3/state", {"psi": 136.6, "ts": services.now().timestamp() * 1000}
    )
    assert "A mapping for it is at hand" in supervisor_at.get(f"/devices/unread/{number}").text
    assert supervisor_at.send(f"/devices/unread/{number}", step="offer", offer="flat-json").status_code == 303
    (stored,) = mappings.listed(services, actor, PageRequest()).items
    assert stored.name == "flat-json"


def test_a_technician_looks_and_a_supervisor_keeps(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    number = say(services, actor, "yard/shop/gauge-3", {"psi": 136.6})
    page = technician_at.get(f"/devices/unread/{number}").text
    assert "A supervisor saves it." in page
    assert technician_at.send(f"/devices/unread/{number}", **fields(page), step="save").status_code == 403
    assert mappings.listed(services, actor, PageRequest()).items == []


def test_two_numbers_are_not_the_same_thing(supervisor_at: Visitor, services: Services, actor: Actor) -> None:
    number = say(services, actor, "yard/shop/gauge-3", {"a": 136.6, "b": 4})
    page = supervisor_at.get(f"/devices/unread/{number}").text
    both = {f"quantity-{n}": "gauge-pressure" for n in (0, 1)} | {f"unit-{n}": "[psi]" for n in (0, 1)}
    sent = supervisor_at.send(f"/devices/unread/{number}", **(fields(page) | both), step="save")
    assert "Two numbers are said to be the gauge pressure" in sent.text


@pytest.mark.parametrize(
    ("topic", "message", "read"),
    [
        ("shop-sensors/gauge-3/pressure", 9.42, []),
        (
            "net/app-1/up",
            {
                "dev_eui": "0024be01",
                "received_at": "2026-03-01T12:00:00Z",
                "decoded": {"pressure_kpa": 942.0},
            },
            [("0024be01", "gauge-pressure", 942_000.0)],
        ),
        (
            "bridge/shop/gauge-3",
            {"state": {"pressure_bar": "9.42", "temp_c": "24.5"}},
            [("gauge-3", "gauge-pressure", 942_000.0), ("gauge-3", "wall-temperature", 297.65)],
        ),
        (
            "plant/shop/edge-4",
            {
                "metrics": [
                    {"name": "Line Pressure", "unit": "kPa", "value": 942.0},
                    {"name": "It's", "value": 1},
                ]
            },
            [("edge-4", "gauge-pressure", 942_000.0)],
        ),
        (
            "heelmark/shop/readings/probe-7",
            [{"n": "gauge-pressure", "u": "psi", "v": 100}, {"n": "temperature", "u": "F", "v": 77.0}],
            [("probe-7", "gauge-pressure", 689_475.7293), ("probe-7", "wall-temperature", 298.15)],
        ),
        (
            "plant/shop/edge-4",
            [{"n": "p", "u": "kPa", "v": 942.0}, {"n": "rssi", "v": -70}],
            [("edge-4", "gauge-pressure", 942_000.0)],
        ),
    ],
)
def test_a_first_guess_of_many_shapes_is_sound(topic: str, message: object, read: list[object]) -> None:
    noon = 1772366400.0
    choices = proposed(topic, message, ["shop"], noon)
    if not read:
        assert choices.values == ()
        return
    found = try_on(parse(document_of(choices, topic, message)), topic, message, noon)
    assert found.faults == ()
    assert [(one.device, one.quantity, pytest.approx(one.value)) for one in found.readings] == read
    assert {one.place for one in found.readings} == {"shop"}


def test_every_path_of_a_tree_leads_to_its_value() -> None:
    message = {"a b": {"x.y": [1, {"name": "o'clock", "v": 2}, [3]]}, "é": "4", "n": True}
    import jmespath

    for leaf in leaves(message):
        assert str(jmespath.search(leaf.path, message)) == leaf.shown


def test_a_device_whose_celsius_look_like_fahrenheit_is_asked_about(
    technician_at: Visitor, services: Services, worker: FlaskClient
) -> None:
    worker.put("/api/v1/live", json=heard("clamp-8", "clamp-9", at=services.now()))
    assert "Is this" not in technician_at.get("/devices").text
    hot = heard("clamp-7", at=services.now(), values={"wall-temperature": ("Cel", 76.0)})
    worker.put("/api/v1/live", json=hot)
    assert technician_at.get("/devices").text.count("Is this 76 °F, not °C?") == 1
