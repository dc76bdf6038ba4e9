"""A cylinder's history played through the interface, with every voice heard after every act."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any, Final

from service.cylinders.judgement.causes import Kind
from tests.support.histories import EVIDENCE, Act, play, random_act, random_start, register
from tests.support.shop import Shop
from tests.support.voices import Voices, contradictions, hear

HAZARDS: Final = ("flammable", "toxic", "oxidizing")
ROUNDING: Final = 0.003
"""Kept probabilities are rounded, and parts below 0.05 % are dropped [-]."""
TARE_KG: Final = 12.7
MASS_KG: Final = 0.002
"""Masses are told to the gram [kg]."""
DEVICES: Final = {
    "hot", "pressure-toward-rating", "liquid-full-soon", "stale", "battery-low", "devices-disagree", "stop-filling",
}  # fmt: skip
"""Causes that devices raise, and end."""
ENDED_BY: Final = {
    "live": DEVICES,
    "unhook": DEVICES,
    "correct": {"overfull", "liquid-full-soon", "liquid-full"},
    "inspect": {"leak", "boiling-off"},
    "relabel": {"claim-contradicted"},
    "mark-flammable": {"flammable-not-marked"},
    "release-advice": {"advice-hold"},
    "draw": {"overfull", "liquid-full-soon", "liquid-full", "leak"},
    "all-out": {"overfull", "liquid-full-soon", "liquid-full", "leak"},
}
"""Which causes an act without evidence may end; emptying and handing over end what the contents brought."""
INCLUDED: Final = {"shifted": "mixed"}
"""Which causes end because a worse one that says as much takes their place."""


@dataclass
class Told:
    """What was asked and what did not agree, each with the acts that led there."""

    questions: int = 0
    wrong: list[str] = field(default_factory=list)


def random_history(shop: Shop, seed: int, serial: str | None = None) -> Told:
    """Three to nine random acts on a random cylinder."""
    dice = Random(seed)
    start, acts = random_start(dice), [random_act(dice) for _ in range(dice.randint(3, 9))]
    return history(shop, serial or f"HM-{seed}", start, acts)


def history(shop: Shop, serial: str, start: dict[str, Any], acts: Sequence[Act]) -> Told:
    """Register a cylinder, play the acts, and tell whatever does not agree."""
    told, done = Told(), [f"registered {start}"]
    register(shop, serial, start)
    before = hear(shop, serial)
    _keep(told, done, contradictions(before))
    for act in acts:
        tried = shop.check(serial, *act[1:3]) if act[0] == "fill" else None
        status, answer = play(shop, serial, act)
        done.append(f"{act} {status}")
        after = hear(shop, serial)
        stated = [*as_tried(tried, status, after), *as_stated(act, status, answer, after)]
        _keep(told, done, [*contradictions(after), *over_time(act, status, before, after), *stated])
        before = after
    return told


def as_tried(tried: dict[str, Any] | None, status: int, after: Voices) -> list[str]:
    """What the dry run said of a fill that was then done: the same answer, and the room that there is after it."""
    if tried is None:
        return []
    found = [f"dry run {tried['allowed']}, fill {status}"] if tried["allowed"] and status >= 300 else []
    room, promised = after.judgement["room_kg"], tried["remaining_after_kg"]
    if status < 300 and room is not None and (promised is None or abs(room - promised) > MASS_KG):
        found.append(f"dry run told of room for {promised} kg after it, there is {room} kg")
    return found


def as_stated(act: Act, status: int, answer: Any, after: Voices) -> list[str]:
    """What the answer to an act states is what there is after it."""
    if status >= 300:
        return []
    net, found = after.judgement["net_mass_kg"], []
    gross = {"fill": "gross_after_kg", "draw": "gross_after_kg", "weigh": "gross_mass_kg"}.get(act[0])
    stated = None if gross is None else answer[gross]
    if net is None and stated is not None and stated - TARE_KG <= MASS_KG and Kind.NOT_EMPTY in after.codes:
        return found  # the scale says empty and a reading found pressure: nobody knows how much is in it
    if stated is not None and (net is None or abs(stated - TARE_KG - net) > MASS_KG):
        found.append(f"{act[0]} was answered with {stated} kg gross, there are {net} kg net")
    if act[0] == "settle" and answer["verdict"] is not None:
        advised, said = after.judgement["advice"]["disposition"], answer["verdict"]["disposition"]["code"]
        if said != advised:
            found.append(f"a pair was answered with {said}, the advice is {advised}")
    return found


def over_time(act: Act, status: int, before: Voices, after: Voices) -> list[str]:
    """What an act may not have changed."""
    found = [*_enforced(act, status, before), *_remembered(act, before, after)]
    if act[0] in EVIDENCE and status < 300:
        return found
    found += _no_fewer_hazards(act, before, after)
    found += _no_surer(act, before, after)
    ended = before.codes - after.codes - _may_end(act, status, after)
    return found + [f"{code} ended by {act[0]}" for code in sorted(ended)]


def _enforced(act: Act, status: int, before: Voices) -> list[str]:
    """What the advice forbids, the guard refuses."""
    way = {"fill": "in", "draw": "out", "all-out": "out"}.get(act[0])
    if way in before.judgement["advice"]["forbids"] and act[-1] is False and status < 300:
        return [f"{act[0]} was taken against the advice {before.judgement['advice']['code']}"]
    return []


def _remembered(act: Act, before: Voices, after: Voices) -> list[str]:
    """A cause that goes on stays as serious, and keeps since when; having been seen changes nothing of it."""
    was = {cause["code"]: cause for cause in before.judgement["attention"]}
    found = []
    for now in after.judgement["attention"]:
        then = was.get(now["code"], now)
        if then["severity"] == "critical" and now["severity"] != "critical":
            found.append(f"{now['code']} lowered to {now['severity']} by {act[0]}")
        if then["since"] is not None and now["since"] != then["since"]:
            found.append(f"{now['code']} forgot since when by {act[0]}")
    if act[0] == "acknowledge" and after.judgement["attention"] != before.judgement["attention"]:
        found.append("an acknowledgement changed what needs somebody")
    return found


def _no_fewer_hazards(act: Act, before: Voices, after: Voices) -> list[str]:
    if _into_empty(act, before):
        return []
    # A corrected entry is trusted as one record is (0.95), no longer as two that both say that it is mixed.
    least = 0.9 if act[0] == "correct" else 1.0
    return [
        f"{code} fell from {before.hazard(code):.3f} to {after.hazard(code):.3f} by {act[0]}"
        for code in HAZARDS
        if before.hazard(code) >= 0.02 + ROUNDING
        and after.hazard(code) < least * before.hazard(code) - ROUNDING
    ]


def _no_surer(act: Act, before: Voices, after: Voices) -> list[str]:
    """A label on contents of which only labels speak is the claim that there is."""
    only_claims = all(one["source"] == "label" for one in before.belief)
    if _into_empty(act, before) or (act[0] == "relabel" and only_claims):
        return []
    sure = [max((_alone(one) for one in heard.belief), default=0.0) for heard in (before, after)]
    return [f"surer by {act[0]}: {sure[0]:.3f}, then {sure[1]:.3f}"] if sure[1] > sure[0] + ROUNDING else []


def _alone(content: dict[str, Any]) -> float:
    kinds = content["kinds"]
    return float(kinds.get("clean", 0.0) + kinds.get("undetermined", 0.0))


def _into_empty(act: Act, before: Voices) -> bool:
    """Into one with no residue but of the same, or so much that what was there is under 0.5 %."""
    held, residue = before.judgement["net_mass_kg"], {one["designation"] for one in before.belief}
    if before.judgement["belief"]["empty"]:
        return act[0] == "fill" and residue <= {act[1]}
    return act[0] == "fill" and held is not None and held < 0.04


def _may_end(act: Act, status: int, after: Voices) -> set[str]:
    if status >= 400:
        return set()
    emptied = after.judgement["belief"]["empty"] or act[0] == "hand-over"
    included = {code for code, worse in INCLUDED.items() if worse in after.codes}
    return set(Kind) if emptied else ENDED_BY.get(act[0], set()) | included


def _keep(told: Told, done: list[str], wrong: list[str]) -> None:
    told.questions += 1
    told.wrong += [f"{one}\n    after {'; '.join(done)}" for one in wrong]
