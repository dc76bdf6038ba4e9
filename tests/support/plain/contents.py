"""What may be in a cylinder, what it may be called, and what that brings."""

from collections.abc import Callable
from dataclasses import replace

from service.cylinders.judgement.belief import Content, Source
from tests.support.plain.tables import burns, oxidizes, poisons
from tests.support.random_cylinders import Cylinder


def empty(c: Cylinder) -> bool:
    return c.evacuated or (c.net_kg is not None and c.net_kg <= 0.005)


def mixed_on_record(c: Cylinder) -> bool:
    """More than half a percent of another refrigerant than the main one went in, or of what nobody knows."""
    return len(c.shares) > 1 and (max(c.shares.values()) < 0.995 or main(c) == "unknown")


def main(c: Cylinder) -> str:
    return max(c.shares, key=lambda name: c.shares[name])


def believed(c: Cylinder) -> list[Content]:
    """By the best there is: a mixture on record, a reading, what was believed before, the record, the labels."""
    known = {name: share for name, share in c.shares.items() if name != "unknown"}
    top = max(known, key=lambda name: (known[name], name), default="")
    now = c.reading is not None and not c.reading.carried
    if c.evacuated:
        return []
    if mixed_on_record(c) and c.recorded and len(known) > 1:
        return [_one(top, "mixed", 1.0, {name: 1.0 for name in known if name != top})]
    if now and c.reading is not None:
        return list(c.reading.belief.contents)
    if c.carried is not None:
        return list(c.carried.contents)
    if c.recorded and c.shares and not mixed_on_record(c) and main(c) != "unknown":
        return [_one(main(c), "clean", 0.95, {})]
    if c.claims:
        said = [_one(name, "clean", 0.9 / len(c.claims), {}) for name in c.claims]
        return [replace(one, source=Source.LABEL) for one in said]
    return [_one(top, "mixed", 1.0, {})] if known else []


def _one(name: str, kind: str, probability: float, partners: dict[str, float]) -> Content:
    return Content(name, {kind: probability}, partners)  # type: ignore[dict-item]


def chance(belief: list[Content], test: Callable[[str], object]) -> float:
    """That any refrigerant in it passes the test; of several labels the worst counts for all."""
    labels = [one for one in belief if one.source == "label"]
    total = sum(one.probability for one in labels) if any(test(one.designation) for one in labels) else 0.0
    for one in belief:
        if one in labels:
            continue
        beside = sum(share for name, share in one.partners.items() if test(name))
        total += one.probability if test(one.designation) else min(one.kinds.get("mixed", 0.0), beside)  # type: ignore[call-overload]
    return min(1.0, total)


def believable(belief: list[Content]) -> list[str]:
    """Everything of 2 % or more; the likeliest where nothing is."""
    share: dict[str, float] = {}
    for one in belief:
        for name, probability in [(one.designation, one.probability), *one.partners.items()]:
            share[name] = share.get(name, 0.0) + probability
    return [name for name in share if share[name] >= 0.02] or sorted(share, key=lambda n: (-share[n], n))[:1]


def with_what_burns(belief: list[Content]) -> list[str]:
    """And the likeliest that burns, where only all that burn together come to 2 %."""
    names, share = believable(belief), {}
    for one in belief:
        for name, probability in [(one.designation, one.probability), *one.partners.items()]:
            if burns(name):
                share[name] = share.get(name, 0.0) + probability
    if any(name in share for name in names) or chance(belief, burns) < 0.02:
        return names
    return [*names, min(share, key=lambda name: (-share[name], name))]


def kind(belief: list[Content], name: str) -> float:
    return sum(one.kinds.get(name, 0.0) for one in belief)  # type: ignore[call-overload]


def known(belief: list[Content]) -> bool:
    return 1.0 - sum(one.probability for one in belief) < 0.5


def name_of(c: Cylinder, belief: list[Content]) -> tuple[str, str | None]:
    """What it may be called: ``empty``, ``single``, ``doubtful`` with its likeliest, or ``unknown``."""
    first, rest = (belief[0], belief[1:]) if belief else (None, [])
    if empty(c):
        return "empty", None
    if mixed_on_record(c) and (first is None or first.kinds.get("mixed", 0.0) >= 0.5):  # type: ignore[call-overload]
        return "mixed", None
    if first is None or 1.0 - sum(one.probability for one in belief) >= 0.5 or first.probability < 0.5:
        return "unknown", None
    alone, beside = first.alone, max(first.kinds.get(one, 0.0) for one in ("shifted", "air", "mixed"))  # type: ignore[call-overload]
    others = [one for one in rest if one.probability >= 0.02]
    from_label = c.reading is None or c.reading.carried
    if alone < 0.02 or beside >= 0.5 * first.probability:
        return "doubtful", first.designation
    if first.probability >= 0.9 or (not others and from_label and str(first.source) == "label"):
        return "single", first.designation
    return "doubtful", first.designation


def label_is_wrong(c: Cylinder, belief: list[Content]) -> bool:
    """It names something that the contents are not, or are only together with another one that is likelier."""
    if c.label is None or not belief or empty(c):
        return False
    said = next((one for one in belief if one.designation == c.label), None)
    if said is None or said.probability < 0.02:
        return True
    return said.probability - said.kinds.get("mixed", 0.0) < 0.02 and belief[0] is not said  # type: ignore[call-overload]


def liquid_full(c: Cylinder) -> float:
    if c.reading is None or c.reading.carried:
        return 0.0
    return max(c.reading.liquid_full, 0.5 if c.reading.contents == "liquid-full" else 0.0)


def found_air(c: Cylinder) -> float:
    return 0.0 if c.reading is None or empty(c) else c.reading.air_partial_pressure_pa


def hazards(c: Cylinder, belief: list[Content]) -> set[str]:
    """Everything that 2 % or more of what it may hold brings."""
    unknown = 0.0 if empty(c) else 1.0 - sum(one.probability for one in belief)
    found = {
        "flammable": chance(belief, burns),
        "toxic": chance(belief, poisons),
        "oxidizing": chance(belief, oxidizes),
        "liquid-full": liquid_full(c),
    }
    return {code for code, share in found.items() if share >= 0.02} | (
        {"unknown"} if unknown >= 0.5 else set()
    )
