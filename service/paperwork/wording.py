"""What paper says of a cylinder's contents: a rendering of its judgement, nothing decided here."""

from collections.abc import Mapping
from typing import Final

from service.codes import Hazard
from service.cylinders.contents import UNKNOWN
from service.cylinders.judgement.advice import contradicted
from service.cylinders.judgement.belief import LIKELY
from service.cylinders.judgement.judge import Judgement
from service.paperwork import shipping
from service.paperwork.shipping import Form, ShippingDescription
from service.refrigerants.catalogue import Refrigerant

_HEADLINE: Final = {"empty": "EMPTY", "mixed": "MIXED", "unknown": "UNKNOWN"}
_WORDS: Final[dict[str, str]] = {
    Hazard.FLAMMABLE: "flammable",
    Hazard.TOXIC: "toxic",
    Hazard.OXIDIZING: "oxidizing",
}


def headline(judgement: Judgement) -> str:
    """The large word: a designation stands alone only where nothing has to be said beside it."""
    return _HEADLINE.get(judgement.name.form, judgement.name.text)


def under_headline(judgement: Judgement) -> str:
    """What stands under it: a hold, what it may be, what the name rests on."""
    state, name = judgement.state, judgement.name
    if state.holds:
        return f"ON HOLD: {state.holds[0]}"
    against = "; the old label is ruled out" if contradicted(state, judgement.belief) else ""
    match name.form:
        case "mixed":
            return f"{_no_break(name.text)}{against}. Nothing more in."
        case "unknown":
            may_be = f"may be {name.text}" if name.instead else "not identified"
            return f"{may_be}{against}. Nothing in or out." if against or not name.instead else may_be
        case "tentative":
            why = "P-T check cannot tell them apart" if state.measured is not None else name.ground
            return f"tentative: {why}{against}"
        case _:
            return f"{name.ground}{against}"


def must_not_be_overlooked(judgement: Judgement) -> bool:
    """Whether the headline is printed white on black."""
    return (
        bool(judgement.state.holds)
        or judgement.name.form in ("mixed", "unknown")
        or judgement.filling.over
        or judgement.permission.must_move
        or judgement.hazard(Hazard.LIQUID_FULL) is not None
        or contradicted(judgement.state, judgement.belief)
        or _hazard_beyond_name(judgement)
    )


def safety_class(judgement: Judgement, catalogue: Mapping[str, Refrigerant]) -> str | None:
    """Safety class where a designation stands alone."""
    bare = judgement.name.bare
    if bare is not None and bare in catalogue:
        return catalogue[bare].safety_class.value or "class not known"
    return "mixture" if judgement.name.form == "mixed" else None


def hazards(judgement: Judgement) -> str:
    """Every hazard that is believable, in words: those that are likely, then those that may be."""
    found = [one for one in judgement.hazards if one.code in _WORDS]
    likely = [_WORDS[one.code] for one in found if one.probability >= LIKELY]
    doubtful = [_WORDS[one.code] for one in found if one.probability < LIKELY]
    said = [*likely, *([f"may be {', '.join(doubtful)}"] if doubtful else [])]
    left_open = [_WORDS[code] for code in judgement.not_excluded]
    return ", ".join([*said, *([f"not excluded: {', '.join(left_open)}"] if left_open else [])])


def describe(judgement: Judgement, form: Form) -> ShippingDescription:
    """
    How a cylinder is described on shipping papers.

    A designation is named where it is what is believed and brings every hazard that is believable. Where others may be
    in it, the n.o.s. name that fits all of them is tentative (49 CFR 172.101(c)(11)).
    """
    contents, name, belief = judgement.state.contents, judgement.name, judgement.belief
    net, catalogue = judgement.state.net_mass_kg, form.catalogue
    if belief.is_empty:
        return _of_empty(judgement, form)
    if name.mixed_on_record and UNKNOWN not in contents.shares:
        known = [catalogue[one] for one in contents.shares if one in catalogue]
        return shipping.mixture(contents.shares, known, net, form=form)
    possible = [catalogue[one] for one in _believable(judgement) if one in catalogue]
    if not possible or judgement.hazard(Hazard.UNKNOWN) is not None or name.mixed_on_record:
        return shipping.unknown()
    if name.form in ("single", "with-something") and name.designation and not _hazard_beyond_name(judgement):
        return shipping.single(catalogue[name.designation], net, form=form)
    weights = {one.designation: belief.may_hold(one.designation.__eq__) for one in possible}
    return shipping.mixture(weights, possible, net, form=form, tentative=True)


def _believable(judgement: Judgement) -> tuple[str, ...]:
    """Everything believable, and the likeliest that brings a hazard which only several together make believable."""
    names = judgement.belief.believable
    brought = [one.designations for one in judgement.hazards if one.designations]
    return tuple(dict.fromkeys([*names, *(ones[0] for ones in brought if not set(ones) & set(names))]))


def _of_empty(judgement: Judgement, form: Form) -> ShippingDescription:
    contents = judgement.state.contents
    if contents.evacuated:
        return shipping.evacuated(form.law)
    belief, catalogue = judgement.belief, form.catalogue
    possible = [catalogue[one] for one in _believable(judgement) if one in catalogue]
    if not possible or belief.rest >= LIKELY:
        return shipping.unknown()
    if len(possible) == 1:
        return shipping.single(possible[0], 0.0, form=form, residue=True)
    mixed = contents.last_designation is None and bool(contents.shares)
    weights = {one.designation: belief.may_hold(one.designation.__eq__) for one in possible}
    return shipping.mixture(weights, possible, 0.0, form=form, tentative=not mixed, residue=True)


def _hazard_beyond_name(judgement: Judgement) -> bool:
    """Whether something believable brings a hazard that the named refrigerant does not have."""
    named, knowledge = judgement.name.designation, judgement.knowledge
    tests = {
        Hazard.FLAMMABLE: knowledge.is_flammable,
        Hazard.TOXIC: knowledge.is_toxic,
        Hazard.OXIDIZING: knowledge.is_oxidizing,
    }
    return any(
        hazard.code in tests and (named is None or not tests[hazard.code](named))
        for hazard in judgement.hazards
    )


def _no_break(text: str) -> str:
    return text.replace(" % ", "\u00a0%\u00a0")
