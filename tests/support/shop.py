"""A shop with the real verdict engine: cylinders acted on through the interface, and every voice about them.

A voice is what somebody reads of a cylinder: judgement, filling, checks, verdict, label, shipping paper, page, card,
alarms. All are asked for over HTTP and parsed from what comes back.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher
from flask.testing import FlaskClient
from pytest import MonkeyPatch

from service.app import create_app
from service.operations import people, tokens
from service.operations.people import NewPerson
from service.operations.support import passwords
from service.operations.support.context import Actor, Judge, Services
from service.settings import Settings
from service.store.database import Database
from service.units import STANDARD_ATMOSPHERE_PA
from service.wiring import wire
from tests.board.conftest import PASSWORD, Visitor
from tests.conftest import make_owner
from tests.support import databases
from tests.support.clock import Clock

BASE: dict[str, Any] = {
    "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 18.7,
    "requalification_stamp": "6 A123 24", "place": "shop",
}  # fmt: skip
GOOD_CLAMP = {"temperature_uncertainty_k": 0.1, "temperature_bias_uncertainty_k": 0.1}
GOOD_GAUGE = {"pressure_uncertainty_kpa": 1.0, "pressure_bias_uncertainty_kpa": 1.0}


@dataclass
class Shop:
    """One owner's shop; ``act`` answers what the service says, whatever it says."""

    services: Services
    actor: Actor
    clock: Clock
    client: FlaskClient
    visitor: Visitor
    worker: FlaskClient
    refusals: list[tuple[str, dict[str, Any]]] = field(default_factory=list)

    def act(self, method: str, path: str, body: Any = None, **headers: str) -> tuple[int, Any]:
        """Send one request a second later than the last."""
        self.clock.forward(seconds=1)
        answer = self.client.open(f"/api/v1/{path}", method=method, json=body, headers=headers)
        assert answer.status_code < 500, answer.get_data(as_text=True)
        told = answer.get_json() if answer.data else None
        if answer.status_code >= 400:
            self.refusals.append((path, told))
        return answer.status_code, told

    def must(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        """Send one request that has to succeed."""
        status, told = self.act(method, path, body, **headers)
        assert status < 300, told
        return told

    def register(self, serial: str, **more: Any) -> None:
        self.must("POST", "cylinders", {"serial": serial, **BASE, **more})

    def settle(
        self,
        serial: str,
        designation: str | None = None,
        *,
        temp_c: float = 23.0,
        kpa: float | None = None,
        **more: Any,
    ) -> Any:
        """A settled pair with good instruments: on a refrigerant's bubble line, or at an absolute pressure [kPa]."""
        if kpa is None:
            assert designation is not None
            kpa = float(self.services.curves.bubble_pressure_pa(designation, temp_c + 273.15)) / 1e3
        pair = {"cylinder": serial, "temperature_c": temp_c, "absolute_pressure_kpa": kpa}
        return self.must("POST", "equilibrium-pairs", {**pair, **GOOD_CLAMP, **GOOD_GAUGE, **more})

    def fill(self, serial: str, refrigerant: str, mass_kg: float, **more: Any) -> tuple[int, Any]:
        body = {"cylinder": serial, "direction": "in", "refrigerant": refrigerant, "mass_kg": mass_kg}
        return self.act("POST", "transfers", {**body, **more})

    def draw(self, serial: str, mass_kg: float, phase: str = "liquid", **more: Any) -> tuple[int, Any]:
        body = {"cylinder": serial, "direction": "out", "mass_kg": mass_kg, "phase": phase}
        return self.act("POST", "transfers", {**body, **more})

    def change(self, serial: str, **fields: Any) -> tuple[int, Any]:
        tag = self.client.get(f"/api/v1/cylinders/{serial}").headers["ETag"]
        return self.act("PATCH", f"cylinders/{serial}", fields, **{"If-Match": tag})

    def relabel(self, serial: str, designation: str | None) -> tuple[int, Any]:
        return self.change(serial, claimed_designation=designation)

    def say(self, hookup: int, **live: Any) -> None:
        """What the worker reports about a hookup now."""
        told = {
            "settling_state": "settled",
            "at": self.clock.forward(seconds=1).isoformat(),
            "reasons": [],
            **live,
        }
        answer = self.worker.put(f"/api/v1/hookups/{hookup}/live", json=told)
        assert answer.status_code < 300, answer.get_data(as_text=True)

    def weigh(self, serial: str, gross_mass_kg: float) -> tuple[int, Any]:
        return self.change(serial, gross_mass_kg=gross_mass_kg)

    def evacuate(self, serial: str, micron: float = 400.0) -> tuple[int, Any]:
        return self.act("POST", "evacuations", {"cylinder": serial, "vacuum_micron": micron})

    def judgement(self, serial: str) -> dict[str, Any]:
        told: dict[str, Any] = self.must("GET", f"cylinders/{serial}/judgement")
        return told

    def check(self, serial: str, refrigerant: str, mass_kg: float) -> dict[str, Any]:
        told: dict[str, Any] = self.must(
            "POST", f"cylinders/{serial}/checks", {"refrigerant": refrigerant, "mass_kg": mass_kg}
        )
        return told

    def codes(self, serial: str) -> set[str]:
        """Codes of the causes that stand."""
        return {cause["code"] for cause in self.judgement(serial)["attention"]}

    def alarms(self, serial: str) -> set[str]:
        """Codes of the alarms that stand."""
        told = self.must("GET", f"alarms?cylinder={serial}")
        return {alarm["code"] for alarm in told["items"]}

    def label(self, serial: str) -> str:
        """Every word of the label, in the order in which it is drawn."""
        answer = self.client.get(f"/api/v1/cylinders/{serial}/label.svg?units=si")
        assert answer.status_code == 200, answer.get_data(as_text=True)
        words = re.findall(r"<text[^>]*>(.*?)</text>", answer.get_data(as_text=True), re.S)
        return " | ".join(unescape(re.sub("<[^>]+>", "", word)) for word in words)

    def shipping(self, serial: str) -> str:
        told = self.must("GET", f"cylinders/{serial}/shipping-description")
        return f"{told['text']} {' '.join(told['notes'])}"

    def page(self, serial: str) -> str:
        """The cylinder's page as text."""
        return as_text(self.visitor.get(f"/cylinders/{serial}").text)

    def card(self, serial: str) -> str:
        """The cylinder's card as text."""
        return as_text(self.visitor.get(f"/rack?only={serial}").text)


def as_text(html: str) -> str:
    """What a reader sees of a page, without its navigation and standing cautions."""
    main = html.split("<main", 1)[-1].split("</main>", 1)[0]
    main = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", main, flags=re.S)
    return re.sub(r"\s+", " ", unescape(re.sub("<[^>]+>", " ", main)).replace("\u202f", " ")).strip()


@contextmanager
def open_shop(folder: Path, judge: Judge | None = None) -> Iterator[Shop]:
    """A shop at sea level at noon of 4 May 2026; ``judge`` is an engine made before."""
    settings = Settings(data=folder, database_url="", secret_key="s" * 40, request_limit="1000000 per minute")
    database, clock = Database(databases.fresh_sqlite(folder)), Clock()
    own = wire(settings, database=database, judge=judge, now=clock)
    actor = make_owner(own)
    app = create_app(settings, own)
    secret = tokens.create(own, actor, name="shop", scope="administrator").secret
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    worker = app.test_client()
    worker_secret = tokens.create(own, actor, name="worker", scope="worker").secret
    worker.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {worker_secret}"
    with MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
        people.create(own, actor, NewPerson("boss", "Boss", "supervisor", PASSWORD))
        visitor = Visitor(app.test_client())
        visitor.sign_in("boss")
    yield Shop(own, actor, clock, client, visitor, worker)
    database.dispose()


def gauge(kpa: float) -> float:
    """An absolute pressure [kPa] out of one against the standard atmosphere [kPa]."""
    return kpa + STANDARD_ATMOSPHERE_PA / 1e3
