"""What happens to a cylinder, one act after the other, through the interface; a refused act is one as well."""

from random import Random
from typing import Any

from service.operations.support.attention import sweep
from service.units import STANDARD_ATMOSPHERE_PA
from tests.support.shop import BASE, Shop

Act = tuple[Any, ...]
Answer = tuple[int, Any]
NOTHING: Answer = (404, None)
"""There was nothing to do it to."""
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
        ("analysis", name), ("mark-flammable",), ("all-out", override), ("hook-up",), ("unhook",), ("acknowledge",),
        ("live", name, dice.choice((12.0, 23.0, 47.0, 55.0)), dice.choice((0.0, 0.0, 80.0)),
         dice.choice((None, 0.4, 6.0, 20.0))),
        ("correct", dice.choice((0.5, 0.7, 1.5))), ("correct", 0.02),
    ))  # fmt: skip


def register(shop: Shop, serial: str, start: dict[str, Any]) -> None:
    """Register a cylinder; what is odd about it is confirmed."""
    values = {key: value for key, value in {**BASE, **start}.items() if value is not None}
    status, told = shop.act("POST", "cylinders", {"serial": serial, **values})
    if status == 409:
        status, told = shop.act("POST", "cylinders", {"serial": serial, **values, "confirmed": True})
    assert status == 201, told


def play(shop: Shop, serial: str, act: Act) -> Answer:
    """Do one act; status and body of the answer."""
    kind, *more = act
    return PLAYED[kind](shop, serial, *more)


def _kpa(shop: Shop, name: str, temp_c: float, more_kpa: float) -> float:
    """Absolute, on the refrigerant's bubble line and a little off it."""
    return float(shop.services.curves.bubble_pressure_pa(name, temp_c + 273.15)) / 1e3 + more_kpa


def _settle(shop: Shop, serial: str, name: str, temp_c: float, spread_k: float, more_kpa: float) -> Answer:
    kpa = _kpa(shop, name, temp_c, more_kpa)
    return 201, shop.settle(serial, kpa=kpa, temp_c=temp_c, temperature_bias_uncertainty_k=spread_k)


def _fill(shop: Shop, serial: str, name: str, mass_kg: float, override: bool) -> Answer:
    return shop.fill(serial, name, mass_kg, **_reason(override))


def _draw(shop: Shop, serial: str, mass_kg: float, phase: str, override: bool) -> Answer:
    return shop.draw(serial, mass_kg, phase, **_reason(override))


def _all_out(shop: Shop, serial: str, override: bool) -> Answer:
    held = shop.judgement(serial)["net_mass_kg"]
    return shop.draw(serial, held, "liquid", **_reason(override)) if held else NOTHING


def _reason(override: bool) -> dict[str, str]:
    return {"override_reason": WHY} if override else {}


def _weigh(shop: Shop, serial: str, net_kg: float) -> Answer:
    return shop.change(serial, gross_mass_kg=12.7 + net_kg, confirmed=True)


def _lift(shop: Shop, serial: str) -> Answer:
    held = shop.must("GET", f"holds?cylinder={serial}")["items"]
    return shop.act("DELETE", f"holds/{held[0]['id']}") if held else NOTHING


def _hand_over(shop: Shop, serial: str, net_kg: float) -> Answer:
    exchange = {
        "cylinder": serial,
        "counterparty": "Example Supply",
        "receipt": "N-1",
        "gross_mass_kg": 12.7 + net_kg,
    }
    return shop.act("POST", "exchanges", exchange)


def _wait(shop: Shop, serial: str, minutes: int) -> Answer:
    shop.clock.forward(minutes=minutes)
    sweep(shop.services)
    return 200, None


def _analysis(shop: Shop, serial: str, name: str) -> Answer:
    result = {"cylinder": serial, "passed": True, "laboratory": "Example Laboratory", "designation": name}
    return shop.act("POST", "purity-results", result)


def _hook_up(shop: Shop, serial: str) -> Answer:
    devices = {"pressure_device": f"g-{serial}", "temperature_device": f"t-{serial}"}
    return shop.act("POST", "hookups", {"cylinder": serial, **devices})


def _hooked_up(shop: Shop, serial: str) -> list[int]:
    return [one["id"] for one in shop.must("GET", f"hookups?active=true&cylinder={serial}")["items"]]


def _live(shop: Shop, serial: str, name: str, temp_c: float, more_kpa: float, net_kg: float | None) -> Answer:
    """What the worker reports about a hookup: shown, and no evidence of what is inside."""
    for hookup in _hooked_up(shop, serial):
        gauge_kpa = _kpa(shop, name, temp_c, more_kpa) - STANDARD_ATMOSPHERE_PA / 1e3
        mass = {} if net_kg is None else {"mass_kg": 12.7 + net_kg}
        shop.say(hookup, temperature_c=temp_c, gauge_pressure_kpa=gauge_kpa, **mass)
        sweep(shop.services)  # alarms that nothing urgent changes are reviewed once a minute
        return 204, None
    return NOTHING


def _unhook(shop: Shop, serial: str) -> Answer:
    answers = [shop.act("DELETE", f"hookups/{hookup}") for hookup in _hooked_up(shop, serial)]
    return answers[-1] if answers else NOTHING


def _correct(shop: Shop, serial: str, factor: float) -> Answer:
    """The newest entry had another mass."""
    entries = shop.must("GET", f"transfers?cylinder={serial}")["items"]
    wrong = next((one for one in entries if one["corrects"] is None), None)
    if wrong is None:
        return NOTHING
    right = {"mass_kg": factor * wrong["mass_kg"], "reason": WHY}
    return shop.act("POST", f"transfers/{wrong['id']}/corrections", right)


def _acknowledge(shop: Shop, serial: str) -> Answer:
    """Somebody has seen everything that stands."""
    standing = shop.must("GET", f"alarms?cylinder={serial}")["items"]
    answers = [shop.act("POST", f"alarms/{alarm['id']}/acknowledgement") for alarm in standing]
    return answers[-1] if answers else NOTHING


PLAYED: Any = {
    "settle": _settle,
    "fill": _fill,
    "draw": _draw,
    "all-out": _all_out,
    "weigh": _weigh,
    "evacuate": lambda shop, serial: shop.evacuate(serial),
    "relabel": lambda shop, serial, name: shop.relabel(serial, name),
    "hold": lambda shop, serial: shop.act("POST", "holds", {"cylinder": serial, "reason": WHY}),
    "lift": _lift,
    "release-advice": lambda shop, serial: shop.act(
        "POST", f"cylinders/{serial}/advice-releases", {"reason": WHY}
    ),
    "hand-over": _hand_over,
    "wait": _wait,
    "inspect": lambda shop, serial, passed: shop.act(
        "POST", "inspections", {"cylinder": serial, "passed": passed}
    ),
    "analysis": _analysis,
    "mark-flammable": lambda shop, serial: shop.change(serial, flammable_marked=True),
    "hook-up": _hook_up,
    "live": _live,
    "unhook": _unhook,
    "correct": _correct,
    "acknowledge": _acknowledge,
}
