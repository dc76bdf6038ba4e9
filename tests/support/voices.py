"""Everything that the program says of one cylinder at one moment, and where two of its voices do not agree.

The voices: judgement, filling, a check, verdict, alarms, triage and the suitable list (REST), label, shipping
description, page and card, each asked for over HTTP and parsed from what comes back.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from service.cylinders.judgement.causes import Kind
from tests.support.shop import Shop

LB: Final = 0.45359237
_MASS: Final = r"([\d,]+\.\d) lb"
TRIED_KG: Final = 0.01


@dataclass(frozen=True, slots=True)
class Voices:
    """What each says; ``check`` and ``suitable`` of a little more of its likeliest content, None where it has none."""

    judgement: dict[str, Any]
    filling: dict[str, Any]
    check: dict[str, Any] | None
    suitable: bool | None
    verdict: dict[str, Any] | None
    alarms: set[str]
    triage: dict[str, Any] | None
    label: list[str]
    shipping: dict[str, Any]
    page: str
    card: str
    claim: str | None

    @property
    def belief(self) -> list[dict[str, Any]]:
        return list(self.judgement["belief"]["contents"])

    @property
    def codes(self) -> set[str]:
        return {cause["code"] for cause in self.judgement["attention"]}

    def permit(self, act: str) -> bool:
        return bool(next(one["allowed"] for one in self.judgement["permits"] if one["act"] == act))

    def hazard(self, code: str) -> float:
        return float(
            next((one["probability"] for one in self.judgement["hazards"] if one["code"] == code), 0.0)
        )


def hear(shop: Shop, serial: str) -> Voices:
    """Ask every voice about a cylinder."""
    judgement = shop.judgement(serial)
    inside = judgement["belief"]["contents"]
    first = inside[0]["designation"] if inside and not judgement["belief"]["empty"] else None
    status, verdict = shop.act("GET", f"cylinders/{serial}/verdict")
    triaged = shop.must("GET", "triage?unfinished=false")["items"]
    fits = None
    if first is not None:
        found = shop.must("GET", f"cylinders/suitable?refrigerant={first}&mass_kg={TRIED_KG}")["items"]
        fits = serial in {one["cylinder"] for one in found}
    return Voices(
        judgement=judgement,
        filling=shop.must("GET", f"cylinders/{serial}/filling"),
        check=None if first is None else shop.check(serial, first, TRIED_KG),
        suitable=fits,
        verdict=verdict if status == 200 else None,
        alarms=shop.alarms(serial) & set(Kind),
        triage=next((one for one in triaged if one["cylinder"] == serial), None),
        label=shop.label(serial).split(" | "),
        shipping=shop.must("GET", f"cylinders/{serial}/shipping-description"),
        page=shop.page(serial).split(" History History ")[0],
        card=shop.card(serial),
        claim=shop.must("GET", f"cylinders/{serial}")["claimed_designation"],
    )


def contradictions(heard: Voices) -> list[str]:
    """Every two voices that do not say the same, in words."""
    return [f"{rule.__name__.strip('_').replace('_', ' ')}: {told}" for rule in RULES for told in rule(heard)]


def _one_limit(heard: Voices) -> Iterator[str]:
    limit = heard.judgement["limit"]
    most = None if limit is None else limit["net_mass_kg"]
    said = {"filling": _net(heard.filling["limit"])}
    if heard.check is not None:
        said["check"] = _net(heard.check["limit"])
    for voice, kg in said.items():
        if (kg is None) != (most is None) or (kg is not None and abs(kg - most) > 1e-5):
            yield f"judgement {most} kg, {voice} {kg} kg"
    for voice, text in (("page", heard.page), ("card", heard.card)):
        for pattern in (
            rf"It holds {_MASS}; the limit is {_MASS}",
            rf"May hold {_MASS}",
            rf"of {_MASS} allowed",
            rf"OVERFULL: {_MASS}, limit {_MASS}",
        ):
            found = [one if isinstance(one, str) else one[-1] for one in re.findall(pattern, text)]
            yield from _differing(voice, found, most)
    row = heard.label[heard.label.index("NET") + 2]
    if row.endswith(" kg") and (most is None or abs(float(row[:-3].replace(",", "")) - most) > 0.02):
        yield f"judgement {most} kg, label {row}"


def _one_room(heard: Voices) -> Iterator[str]:
    room, may = heard.judgement["room_kg"], heard.permit("fill")
    yield from _differing("page", re.findall(rf"room for {_MASS}", heard.page), room)
    if "room for" in heard.card:
        yield "card offers room"
    if not may and (room is not None or "Stop at" in heard.page):
        yield "room where it may not be filled"


def _may_it_be_filled(heard: Voices) -> Iterator[str]:
    may = heard.permit("fill")
    if may != ("May be filled" in heard.page) or may == ("Do not fill" in heard.page):
        yield f"permit {may}, page otherwise"
    enough = (heard.judgement["room_kg"] or 0.0) > TRIED_KG
    if heard.check is not None:
        if heard.check["allowed"] != heard.suitable:
            yield f"check {heard.check['allowed']}, suitable {heard.suitable}"
        if heard.check["allowed"] != (may and enough):
            codes = [one["code"] for one in heard.check["reasons"]]
            yield f"permit {may}, room {heard.judgement['room_kg']}, check {heard.check['allowed']} {codes}"
    offered = re.search(r"\bFill (with|it)\b", heard.page)
    if offered and not may:
        yield "page offers a fill that is not allowed"


def _what_burns_or_poisons(heard: Voices) -> Iterator[str]:
    # What is not excluded is said on the label as that, and is no hazard that is believed.
    left_open = re.findall(
        r"not excluded: ((?:flammable|toxic)(?:, (?:flammable|toxic))?)", " ".join(heard.label)
    )
    told = heard.judgement["not_excluded"]
    if left_open != ([", ".join(told)] if told else []):
        yield f"judgement does not exclude {told}, label {left_open}"
    label = " ".join(word.split("not excluded:")[0] for word in heard.label).lower()
    division = heard.shipping.get("hazard_division") or ""
    for code, marks in (("flammable", "2.1"), ("toxic", "2.3")):
        believed = heard.hazard(code) >= 0.02
        on_label = re.search(rf"(?<!non-)(?<!non)\b{code}", label.replace("flammable range", "")) is not None
        if believed != on_label:
            yield f"{code} {heard.hazard(code):.3f}, label {'says' if on_label else 'does not say'} so"
        if believed and code not in heard.page.lower():
            yield f"{code} {heard.hazard(code):.3f}, page does not say so"
        described = bool(heard.shipping["text"]) and bool(division)
        if described and believed and marks not in division and not _is_ammonia(heard):
            yield f"{code} {heard.hazard(code):.3f}, paper says {heard.shipping['text']}"
        if described and not believed and marks in division:
            yield f"not {code}, paper says {heard.shipping['text']}"
    if heard.hazard("flammable") and "non-flammable" in label and not _is_ammonia(heard):
        yield "label says non-flammable"


def _is_ammonia(heard: Voices) -> bool:
    """49 CFR 172.101: in the United States it is of Division 2.2 and labeled so, with its inhalation hazard."""
    return bool(heard.shipping["un_number"] == "UN1005" and "Inhalation" in (heard.shipping["text"] or ""))


def _what_it_is(heard: Voices) -> Iterator[str]:
    name, headline = heard.judgement["name"], heard.label[0]
    large = {"empty": "EMPTY", "mixed": "MIXED", "unknown": "UNKNOWN"}.get(name["form"], name["text"])
    if headline.rstrip("….") not in large:
        yield f"judgement {name['form']} {name['text']}, label {headline}"
    if name["form"] == "single" and name["designation"] not in heard.card:
        yield f"judgement {name['designation']}, card {heard.card[:60]}"
    if (name["form"] == "empty") != ("It is empty" in heard.page):
        yield f"judgement {name['form']}, page otherwise"
    believable = {one["designation"] for one in heard.belief} | {
        n for one in heard.belief for n in one["partners"]
    }
    if heard.claim is not None and heard.claim not in believable and heard.belief:
        if re.search(rf"\b{re.escape(heard.claim)}\b(?! with)", headline):
            yield f"label calls it {heard.claim}, which nothing believes"
        if "R " + heard.claim[2:] in (heard.shipping["text"] or ""):
            yield f"paper names {heard.claim}, which nothing believes"


def _what_needs_somebody(heard: Voices) -> Iterator[str]:
    if heard.codes != heard.alarms:
        yield f"judgement {sorted(heard.codes)}, alarms {sorted(heard.alarms)}"
    overfull = "overfull" in heard.codes
    if overfull and "overfull" not in heard.card.lower():
        yield "overfull, and the card does not say so"
    if overfull and heard.permit("fill"):
        yield "overfull, and may be filled"
    if heard.codes & {"contents-not-permitted", "flammable-not-marked"} and heard.permit("fill"):
        yield "in the wrong cylinder, and may be filled"


def _what_to_do(heard: Voices) -> Iterator[str]:
    advice = heard.judgement["advice"]
    if _plain(advice["text"]) not in _plain(heard.page):
        yield f"page does not say: {advice['text']}"
    for way, acts in (("in", ("fill",)), ("out", ("draw-liquid", "draw-vapor"))):
        if way in advice["forbids"] and any(heard.permit(act) for act in acts):
            yield f"advice {advice['code']} forbids {way}, a permit allows it"
    out = advice["code"] in {"take-out", "relieve", "move-contents"}
    if out and not heard.permit("draw-liquid") and "release" not in advice["text"]:
        yield f"advice {advice['code']}, and taking out is not allowed"
    if "claim-contradicted" in heard.codes and advice["disposition"] == "keep":
        yield "label contradicted, and the advice is keep"
    said = heard.verdict["disposition"]["code"] if heard.verdict is not None else "keep"
    if advice["code"] == "keep" and said != "keep" and "released" not in advice["text"]:
        yield f"advice keep, verdict {said}"


def _no_less_than_found(heard: Voices) -> Iterator[str]:
    found = heard.verdict["contamination"]["finding"] if heard.verdict is not None else None
    if "nothing else was detected" in heard.page and found != "none-detected":
        yield f"page says that nothing else was detected, verdict {found}"
    if "this refrigerant" in f"{heard.page} {' '.join(heard.label)}":
        yield "the refrigerant is not named"


def _what_is_not_known(heard: Voices) -> Iterator[str]:
    unknown = {one["code"] for one in heard.judgement["unknowns"]}
    for one in heard.judgement["unknowns"]:
        if one["text"] not in heard.page:
            yield f"page does not say that it does not know {one['text']}"
    if heard.triage is None:
        return
    done = set(heard.triage["done"])
    if ("weighing" in done) == ("weight" in unknown):
        yield f"judgement does not know {sorted(unknown)}, triage has done {sorted(done)}"
    if "marks" in done and unknown & {"marks", "water-capacity", "tare"}:
        yield f"judgement does not know {sorted(unknown)}, triage has done {sorted(done)}"
    if "verdict" in done and heard.verdict is None and "evacuated" not in heard.judgement["name"]["ground"]:
        yield "triage has a verdict, and there is none"


RULES: Final[tuple[Callable[[Voices], Iterator[str]], ...]] = (
    _one_limit, _one_room, _may_it_be_filled, _what_burns_or_poisons, _what_it_is, _what_needs_somebody, _what_to_do,
    _no_less_than_found, _what_is_not_known,
)  # fmt: skip


def _net(limit: dict[str, Any] | None) -> float | None:
    return None if limit is None else float(limit["net_mass_kg"])


def _differing(voice: str, said_lb: list[str], kg: float | None) -> Iterator[str]:
    for text in said_lb:
        if kg is None or abs(float(text.replace(",", "")) - kg / LB) > 0.06:
            yield f"judgement {kg} kg, {voice} {text} lb"


def _plain(text: str) -> str:
    return re.sub(r"[\s\u00a0\u2060\u202f]+", "", text)
