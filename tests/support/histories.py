"""What happens to a cylinder, one act after the other, through the interface; a refused act is one as well."""

from random import Random
from typing import Any

from tests.support.shop import BASE, Shop

Act = tuple[Any, ...]
NAMES = ("R-22", "R-32", "R-134a", "R-290", "R-404A", "R-407C", "R-410A", "R-454B", "R-717")
MARKS = (
    "DOT-4BA400",
    "DOT-4BA400",
    "DOT-4BW260",
    "DOT-4BA350",
    "DOT-39 NRC 400/500",
    "PH 48 BAR UN",
    "DOT-3AA2400",
    None,
)
EVIDENCE = frozenset({"settle", "weigh", "evacuate", "analysis"})
WHY = "for the test"


def random_start(dice: Random) -> dict[str, Any]:
    """How a cylinder is registered."""
    start: dict[str, Any] = {
        "marks": dice.choice(MARKS),
        "claimed_designation": dice.choice((None, *NAMES)),
        "flammable_marked": dice.random() < 0.3,
        "gross_mass_kg": dice.choice((None, 12.7, 13.9, 18.7, 25.0, 34.0, 38.0)),
        "requalification_stamp": dice.choice(("6 A123 24", "6 A123 24", "6 A123 18", None)),
    }
    start["evacuated"] = start["gross_mass_kg"] == 12.7 and dice.random() < 0.7
    if dice.random() < 0.1:
        start["water_capacity_kg"] = None
    return start


def random_act(dice: Random) -> Act:
    """The next thing that somebody does."""
    name, mass = dice.choice(NAMES), dice.choice((0.3, 1.0, 3.0, 6.0))
    temp_c, spread = dice.choice((12.0, 23.0, 33.0)), dice.choice((0.1, 0.1, 0.6))
    override = dice.random() < 0.6
    return dice.choice((
        ("settle", name, temp_c, spread, dice.choice((0.0, 0.0, 0.0, 80.0, -60.0))),
        ("settle", name, temp_c, spread, 0.0),
        ("fill", name, mass, override),
        ("fill", name, mass, override),
        ("draw", mass, dice.choice(("liquid", "vapour")), override),
        ("draw", mass, dice.choice(("liquid", "vapour")), override),
        ("weigh", dice.choice((0.0, 0.4, 2.0, 6.0, 12.0, 20.0))),
        ("evacuate",), ("relabel", dice.choice((None, *NAMES))), ("hold",), ("lift",), ("release-advice",),
        ("hand-over", dice.choice((0.0, 2.0))), ("wait", dice.choice((1, 30, 400))), ("inspect", dice.random() < 0.8),
        ("analysis", name), ("mark-flammable",), ("all-out", override),
    ))  # fmt: skip


def register(shop: Shop, serial: str, start: dict[str, Any]) -> None:
    """Register a cylinder; what is odd about it is confirmed."""
    values = {key: value for key, value in {**BASE, **start}.items() if value is not None}
    status, told = shop.act("POST", "cylinders", {"serial": serial, **values})
    if status == 409:
        status, told = shop.act("POST", "cylinders", {"serial": serial, **values, "confirmed": True})
    assert status == 201, told


def play(shop: Shop, serial: str, act: Act) -> int:
    """Do one act; the status of the answer."""
    kind, *more = act
    return PLAYED[kind](shop, serial, *more)


def _settle(shop: Shop, serial: str, name: str, temp_c: float, spread_k: float, more_kpa: float) -> int:
    kpa = float(shop.services.curves.bubble_pressure_pa(name, temp_c + 273.15)) / 1e3 + more_kpa
    shop.settle(serial, kpa=kpa, temp_c=temp_c, temperature_bias_uncertainty_k=spread_k)
    return 201


def _fill(shop: Shop, serial: str, name: str, mass_kg: float, override: bool) -> int:
    return shop.fill(serial, name, mass_kg, **_reason(override))[0]


def _draw(shop: Shop, serial: str, mass_kg: float, phase: str, override: bool) -> int:
    return shop.draw(serial, mass_kg, phase, **_reason(override))[0]


def _all_out(shop: Shop, serial: str, override: bool) -> int:
    held = shop.judgement(serial)["net_mass_kg"]
    return shop.draw(serial, held, "liquid", **_reason(override))[0] if held else 409


def _reason(override: bool) -> dict[str, str]:
    return {"override_reason": WHY} if override else {}


def _weigh(shop: Shop, serial: str, net_kg: float) -> int:
    return shop.change(serial, gross_mass_kg=12.7 + net_kg, confirmed=True)[0]


def _lift(shop: Shop, serial: str) -> int:
    held = shop.must("GET", f"holds?cylinder={serial}")["items"]
    return shop.act("DELETE", f"holds/{held[0]['id']}")[0] if held else 404


def _hand_over(shop: Shop, serial: str, net_kg: float) -> int:
    exchange = {
        "cylinder": serial,
        "counterparty": "Example Supply",
        "receipt": "N-1",
        "gross_mass_kg": 12.7 + net_kg,
    }
    return shop.act("POST", "exchanges", exchange)[0]


def _wait(shop: Shop, serial: str, minutes: int) -> int:
    shop.clock.forward(minutes=minutes)
    return 200


def _analysis(shop: Shop, serial: str, name: str) -> int:
    result = {"cylinder": serial, "passed": True, "laboratory": "Example Laboratory", "designation": name}
    return shop.act("POST", "purity-results", result)[0]


PLAYED: Any = {
    "settle": _settle,
    "fill": _fill,
    "draw": _draw,
    "all-out": _all_out,
    "weigh": _weigh,
    "evacuate": lambda shop, serial: shop.evacuate(serial)[0],
    "relabel": lambda shop, serial, name: shop.relabel(serial, name)[0],
    "hold": lambda shop, serial: shop.act("POST", "holds", {"cylinder": serial, "reason": WHY})[0],
    "lift": _lift,
    "release-advice": lambda shop, serial: shop.act(
        "POST", f"cylinders/{serial}/advice-releases", {"reason": WHY}
    )[0],
    "hand-over": _hand_over,
    "wait": _wait,
    "inspect": lambda shop, serial, passed: shop.act(
        "POST", "inspections", {"cylinder": serial, "passed": passed}
    )[0],
    "analysis": _analysis,
    "mark-flammable": lambda shop, serial: shop.change(serial, flammable_marked=True)[0],
}
