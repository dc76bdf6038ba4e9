"""From the first message that nobody can read to the first verdict, through the board's assistant alone, timed.

Each of the shipped kinds of payload, and one that is none of them, on a fresh clamp. The worker is the real one but
for its broker; the owner has nothing but the board. How long each took is printed (`pytest -s`), in the readings' own
time and in pages.
"""

import json
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest
from flask import Flask

from demo.physics import Surroundings
from ingest.runtime.posting import Posted
from ingest.wire.http import Service
from ingest.wire.mqtt import Pack
from service.app import create_app
from service.operations import people, tokens
from service.operations.people import NewPerson
from service.operations.support.context import Services
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.board.conftest import PASSWORD, QUICK, Visitor
from tests.board.test_assistant import fields
from tests.conftest import make_owner
from tests.support.clock import Clock
from tests.support.feeding import rig
from tests.support.served import served
from tests.support.sparkplug_bytes import double, metric, payload
from tests.support.workers import made_worker

PSI = 6894.757293168361
EVERY_S = 10.0
SERIAL = "A-1001"
Sent = list[tuple[str, bytes]]


def as_json(topic: str, message: object) -> Sent:
    return [(topic, json.dumps(message).encode())]


def flat(at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    said = {"psi": gauge_pa / PSI, "temp": wall_c * 1.8 + 32.0, "batt": 81, "ts": round(at_s * 1000)}
    return as_json("vans/shop/gauge-3/state", said)


def scalar(_at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    return [
        *as_json("shop-sensors/gauge-3/pressure", gauge_pa / 1e5),
        *as_json("shop-sensors/gauge-3/temperature", wall_c),
    ]


def uplink(at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    decoded = {"pressure_kpa": gauge_pa / 1e3, "temperature_c": wall_c, "battery": 0.81}
    at = datetime.fromtimestamp(at_s, UTC).isoformat()
    return as_json("lorawan/shop/up", {"dev_eui": "0024befffe804ff1", "received_at": at, "decoded": decoded})


def observations(at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    at = datetime.fromtimestamp(at_s, UTC).isoformat()
    seen = (("pressure", "kPa", gauge_pa / 1e3), ("temperature", "Cel", wall_c))
    value = [
        {"device": "gauge-3", "datastream": name, "unit": unit, "result": result, "phenomenonTime": at}
        for name, unit, result in seen
    ]
    return as_json("observations/shop", {"value": value})


def bridge(_at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    state = {"pressure": f"{gauge_pa / 1e5:.4f}", "temperature": f"{wall_c:.2f}"}
    return as_json("bridge/shop/gauge-3", {"state": state, "unit": {"pressure": "bar"}})


class Node:
    """An edge node of Sparkplug B: born once, then by aliases alone, and born again when it is asked."""

    def __init__(self) -> None:
        self.sequence, self.born = 0, False

    def __call__(self, at_s: float, gauge_pa: float, wall_c: float) -> Sent:
        at_ms, kind = round(at_s * 1000), "DDATA" if self.born else "DBIRTH"
        names = ("", "") if self.born else ("Pressure/Gauge", "Temperature/Wall")
        values = (gauge_pa / PSI, wall_c * 1.8 + 32.0)
        said = [
            metric(double(13, value), name=name, alias=alias, at_ms=at_ms, datatype=10)
            for alias, (name, value) in enumerate(zip(names, values, strict=True), 7)
        ]
        self.born, self.sequence = True, (self.sequence + 1) % 256
        return [(f"spBv1.0/shop/{kind}/edge-3/gauge-3", payload(self.sequence, *said, at_ms=at_ms))]


def nameless(_at_s: float, gauge_pa: float, wall_c: float) -> Sent:
    """None of the shipped kinds, and nothing in it says what its numbers are."""
    return as_json("yard/shop/probes", {"id": "kl-77", "m": [{"a": gauge_pa / 1e5}, {"b": wall_c}]})


TAPPED = {"a": ("gauge-pressure", "bar"), "b": ("wall-temperature", "Cel")}
KINDS: dict[str, Callable[[], Callable[[float, float, float], Sent]]] = {
    "flat JSON": lambda: flat,
    "one number a topic": lambda: scalar,
    "LoRaWAN uplink": lambda: uplink,
    "observations": lambda: observations,
    "home-automation bridge": lambda: bridge,
    "Sparkplug B": Node,
    "none of them": lambda: nameless,
}


class Owner:
    """Somebody at the board; counts pages that are opened and forms that are sent."""

    def __init__(self, visitor: Visitor) -> None:
        self.visitor, self.pages, self.forms = visitor, 0, 0

    def page(self, path: str) -> str:
        self.pages += 1
        answer = self.visitor.get(path)
        assert answer.status_code == 200, answer.text
        return answer.text

    def send(self, path: str, **values: str) -> None:
        self.forms += 1
        answer = self.visitor.send(path, **values)
        assert answer.status_code == 303, answer.text

    def says_what_it_means(self) -> None:
        """Take the mapping that is offered, or tap the numbers."""
        while found := re.search(r'href="(/devices/unread/\d+)"', self.page("/devices")):
            page = self.page(found[1])
            if offer := re.search(r'name="offer" value="([^"]+)"', page):
                self.send(found[1], step="offer", offer=offer[1])
                continue
            values = fields(page)
            for path in [name for name in values if name.startswith("path-")]:
                number, last = path.removeprefix("path-"), values[path].rpartition(".")[2]
                values[f"quantity-{number}"], values[f"unit-{number}"] = TAPPED.get(last, ("", ""))
            self.send(found[1], **values, step="save")

    def hooks_up(self) -> None:
        page = self.page("/hook-up")
        chosen = {
            name: re.findall(rf'<select id="f-{name}".*?</select>', page, re.S)[0]
            for name in ("pressure_device", "temperature_device")
        }
        picked = {
            name: next(one for one in re.findall(r'value="([^"]*)"', options) if one)
            for name, options in chosen.items()
        }
        self.send("/hook-up", cylinder=SERIAL, valve="vapour", **{k: unescape(v) for k, v in picked.items()})

    def verdict(self) -> str | None:
        page = self.visitor.get(f"/cylinders/{SERIAL}").text
        return page if "R-134a" in page else None


class Shop:
    """Worker and service, and the time in which both live."""

    def __init__(self, folder: Path, services: Services, clock: Clock, side: Service) -> None:
        self.clock, self.side, self.services = clock, side, services
        self.worker = made_worker(folder, [], now_s=clock().timestamp())

    def hear(self, sent: Sent) -> None:
        for topic, said in sent:
            self.worker.listener.packs.put(Pack(1, 1, "", "", said, False, self.now_s, topic=topic))
        self.round()

    @property
    def now_s(self) -> float:
        return self.clock().timestamp()

    def round(self) -> None:
        """What the worker's threads do in a second: fetch, read, post, tell."""
        worker, side = self.worker, self.side
        worker.clock.now_s = self.now_s  # type: ignore[attr-defined]
        mappings, hookups = side.mappings(None), side.hookups(None)
        assert mappings is not None and hookups is not None
        worker.new_mappings.put(mappings)
        worker.new_hookups.put((hookups.parsed(), json.dumps(hookups.items)))
        while worker.turn():
            pass
        while not worker.outgoing.empty():
            parcel = worker.outgoing.get()
            decision = side.post_pair(parcel, 0.5)
            assert decision.what == "stored", decision.answer
            worker.posted.put(Posted(parcel, decision))
        body = worker.live()
        assert body is None or side.put_live(body) == []


@pytest.fixture
def services(settings: Settings, database: Database, clock: Clock) -> Services:
    return wire(settings, database=database, now=clock)


@pytest.fixture
def app(settings: Settings, services: Services) -> Flask:
    return create_app(settings, services)


@pytest.fixture
def owner(app: Flask, services: Services, monkeypatch: pytest.MonkeyPatch) -> Owner:
    monkeypatch.setattr("service.operations.support.passwords._hasher", lambda: QUICK)
    actor = make_owner(services)
    people.create(services, actor, NewPerson("sam", "Sam", "supervisor", PASSWORD))
    visitor = Visitor(app.test_client())
    assert visitor.sign_in("sam").status_code == 303
    visitor.send(
        "/register", serial=SERIAL, marks="DOT-4BA400", water_capacity="47.7", tare="27.4", place="shop"
    )
    assert visitor.get(f"/cylinders/{SERIAL}").status_code == 200
    return Owner(visitor)


@pytest.fixture
def side(app: Flask, owner: Owner, services: Services) -> Iterator[Service]:
    actor = people.actor_of(people.sign_in(services, "sam", PASSWORD))  # type: ignore[arg-type]
    secret = tokens.create(services, actor, name="worker", scope="worker").secret
    with served(app) as url:
        yield Service(url, secret)


@pytest.mark.parametrize("kind", KINDS)
def test_from_the_first_message_to_the_first_verdict(
    kind: str, tmp_path: Path, owner: Owner, side: Service, services: Services, clock: Clock
) -> None:
    shop, cylinder, says = Shop(tmp_path, services, clock, side), rig(seed=4), KINDS[kind]()
    began_s = shop.now_s

    def reads() -> None:
        clock.forward(seconds=EVERY_S)
        cylinder.step(EVERY_S, Surroundings(294.0))
        asked = len(shop.worker.listener.published)
        shop.hear(says(shop.now_s, cylinder.gauge_reading(), cylinder.clamp_reading() - 273.15))
        if len(shop.worker.listener.published) > asked and isinstance(says, Node):
            says.born = False

    reads()
    reads()
    owner.says_what_it_means()
    reads()
    reads()
    owner.hooks_up()
    while owner.verdict() is None:
        reads()
        assert shop.now_s - began_s < 1200.0, "no verdict after twenty minutes"
    took_s = shop.now_s - began_s
    print(f"{kind}: {took_s / 60:.1f} min, {owner.pages} pages opened, {owner.forms} forms sent")
    assert took_s < 600.0
    assert (owner.pages, owner.forms) <= (8, 3)
    heard = shop.worker.pipeline.counts
    assert heard["faults"] == 0 and not [name for name in heard if name.startswith("dropped:")]
