"""Every page that there is, over cylinders in every state that the board draws."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

import service.mappings
from service.mappings.toml_text import documents
from tests.browser.server import Server

CYLINDER, OVERFULL, UNKNOWN, HELD, MIXED = "DEMO-1", "DEMO-2", "DEMO-3", "DEMO-4", "DEMO-5"

GAUGE, CLAMP = "urn:dev:mac:0024befffe804ff1", "urn:dev:mac:0024befffe804ff2"


@dataclass(frozen=True)
class Visit:
    """A page by name and path."""

    name: str
    path: str
    signed_in: bool = True


def _of(name: str, path: str, serial: str = CYLINDER) -> Visit:
    return Visit(name, f"/cylinders/{quote(serial)}{path}")


VISITS = (
    Visit("sign-in", "/sign-in", signed_in=False),
    Visit("handbook", "/help", signed_in=False),
    Visit("handbook-leak", "/help/leak", signed_in=False),
    Visit("handbook-take-out", "/help/take-out", signed_in=False),
    Visit("handbook-rules", "/help/rules", signed_in=False),
    Visit("handbook-interface", "/help/interface", signed_in=False),
    Visit("handbook-operations", "/help/operations", signed_in=False),
    Visit("problems", "/problems", signed_in=False),
    Visit("start", "/start"),
    Visit("hand-over", "/hand-over"),
    Visit("rack", "/rack"),
    Visit("rack-filtered", "/rack?q=DEMO-1"),
    Visit("rack-nothing", "/rack?q=no-such-serial"),
    Visit("alarms", "/alarms"),
    Visit("wall", "/wall"),
    Visit("alarms-cause", "/alarms?cause=overdue"),
    Visit("who-did-what", "/who"),
    Visit("entries", "/entries"),
    Visit("instructions", "/instructions"),
    Visit("devices", "/devices"),
    Visit("phone-gateway", "/phone-gateway"),
    Visit("assistant", "/devices/unread/1"),
    Visit("mappings", "/mappings"),
    Visit("mapping", "/mappings/flat-json"),
    Visit("mapping-new", "/mappings/new?from=scalar-pressure"),
    Visit("instruments", "/instruments"),
    Visit("instrument", f"/instruments/{quote(CLAMP)}"),
    Visit("scores", "/scores"),
    Visit("try-a-reading", "/try?temperature=72&pressure=198.6&kind=gauge&claimed=R-410A"),
    Visit("register", "/register"),
    Visit("settings", "/settings"),
    Visit("places", "/places"),
    Visit("people", "/people"),
    Visit("release", "/places/shop/release?volume=400"),
    Visit("records", "/records"),
    Visit("records-seen", "/records?from=2020-01-01&to=2099-12-31&format=look"),
    Visit("reclaimers", "/reclaimers"),
    Visit("equipment", "/equipment"),
    Visit("leak-rate", "/equipment/1"),
    Visit("custody", "/custody"),
    Visit("recoveries", "/recoveries"),
    Visit("recovery-start", "/recoveries/new"),
    Visit("recovery", "/recoveries/1"),
    Visit("hook-up", f"/hook-up?serial={OVERFULL}"),
    Visit("not-here", "/cylinders/no-such-serial"),
    _of("cylinder", ""),
    _of("cylinder-overfull", "", OVERFULL),
    _of("cylinder-unknown", "", UNKNOWN),
    _of("reading", "/reading"),
    _of("weight", "/weight"),
    _of("marks", "/marks"),
    _of("transfer", "/transfer"),
    _of("fill", "/fill"),
    _of("hold", "/hold", HELD),
    _of("exchange", "/exchange"),
    _of("instruction", "/instructions", HELD),
    _of("care", "/care"),
    _of("result", "/result"),
    _of("cylinder-held", "", HELD),
    _of("cylinder-mixed", "", MIXED),
)


def furnish(server: Server) -> None:
    """Put on the shelf what the pages are to show."""
    stamped = {
        "marks": "DOT-4BA400",
        "water_capacity_kg": 21.6,
        "tare_kg": 12.4,
        "requalification_stamp": "06 A123 23",
    }
    server.register(CYLINDER, claimed_designation="R-22", gross_mass_kg=22.4, **stamped)
    server.register(OVERFULL, claimed_designation="R-410A", gross_mass_kg=31.9, **stamped)
    server.register(UNKNOWN)
    server.register(HELD, claimed_designation="R-404A", gross_mass_kg=20.1, **stamped)
    server.call(
        "technician",
        "POST",
        "/holds",
        {"cylinder": HELD, "reason": "smells burnt; the compressor had failed"},
    )
    server.register(MIXED, claimed_designation="R-410A", gross_mass_kg=19.0, **stamped)
    server.pair(25.0, 1240.0, cylinder=MIXED)
    for k in range(8):
        server.register(f"SHELF-{k}", claimed_designation="R-134a", gross_mass_kg=13.0 + 2 * k, **stamped)
    _furnish_records(server)
    split = {"appliance": "split system", "location": "12 Pier Road", "charge_kg": 9.0}
    begun = {"cylinders": [CYLINDER], "refrigerant": "R-22", "equipment": split}
    server.call("technician", "POST", "/recoveries", begun)
    _furnish_instruments(server)
    _furnish_mappings(server)
    server.heard(GAUGE, CLAMP, "urn:dev:mac:0024befffe804ff3")
    body = {
        "cylinder": CYLINDER,
        "pressure_device": GAUGE,
        "temperature_device": CLAMP,
        "valve": "vapour",
    }
    hookup = int(server.call("technician", "POST", "/hookups", body)["id"])
    for step, state in enumerate(("waiting", "cooling", "settling", "settled")):
        server.live(hookup, state, 30.0 - 2.0 * step, 1090.0 - 55.0 * step)
    server.pair(24.8, 943.0, hookup=hookup)
    server.pair(35.2, 1262.0, hookup=hookup)


def _furnish_mappings(server: Server) -> None:
    """One that comes with the program, and a message that it does not read."""
    shipped = Path(service.mappings.__file__).parent / "shipped" / "flat-json.toml"
    (document,) = documents(shipped.read_text())
    server.call("supervisor", "PUT", f"/mappings/{document['name']}", {"mapping": document})
    message = {"state": {"press_psi": 136.6, "tempF": 76.6}, "ts": 1772366400, "fw": "1.2"}
    at = "2026-03-01T12:00:00Z"
    line = {"source": "yard/shop/gauge-3", "topic": "yard/shop/gauge-3", "reason": "topic", "partly": False}
    line |= {"detail": "is of no mapping", "example": json.dumps(message), "message": message, "count": 3}
    line |= {"first_seen": at, "last_seen": datetime.now(UTC).isoformat().replace("+00:00", "Z")}
    server.call("worker", "PUT", "/live", {"place": "shop", "not_understood": [line]})


def _furnish_instruments(server: Server) -> None:
    """A set that read three cylinders of R-134a about 1 K high, and one check by hand."""
    for k, kpa in enumerate((544.0, 543.0, 545.0)):
        body = {"cylinder": f"SHELF-{k}", "pressure_device": GAUGE, "temperature_device": CLAMP}
        hookup = int(server.call("technician", "POST", "/hookups", body)["id"])
        server.pair(25.0, kpa, hookup=hookup, ambient_pressure_kpa=101.3)
        server.call("technician", "DELETE", f"/hookups/{hookup}")
    path = f"/instruments/{quote(GAUGE)}/checks"
    server.call("technician", "POST", path, {"method": "open-air", "error_kpa": 1.4})
    for k, found in enumerate(("R-134a", "R-134a", "R-1234yf")):
        told = {"cylinder": f"SHELF-{k}", "kind": "laboratory", "designation": found}
        server.call("technician", "POST", "/analyses", {**told, "other_refrigerants_percent": 0.2})


def _furnish_records(server: Server) -> None:
    asked = {"cylinder": HELD, "text": "Send a sample to the laboratory. Did the compressor burn out?"}
    server.call("supervisor", "POST", "/instructions", asked)
    server.call(
        "technician",
        "PUT",
        "/reclaimers/Example Reclaim",
        {"address": "1 Quay Street", "certification_number": "R-77"},
    )
    rack = {"location": "Store 12", "name": "Rack A", "refrigerant": "R-404A", "full_charge_kg": 45.0}
    server.call("technician", "POST", "/appliances", {**rack, "kind": "commercial-refrigeration"})
    server.call("technician", "POST", "/custody", {"cylinder": "SHELF-1", "holder": "Example Cooling"})
