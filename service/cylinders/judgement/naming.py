"""What a cylinder is called, on what ground, and what it may be instead."""

from dataclasses import dataclass
from typing import Final, Literal

from service.cylinders.contents import Contents
from service.cylinders.judgement.belief import (
    BELIEVABLE,
    DECIDED,
    LIKELY,
    Belief,
    Content,
    Kind,
    Source,
)
from service.cylinders.judgement.state import CylinderState

Form = Literal["single", "with-something", "tentative", "mixed", "unknown", "empty"]

_WITH: Final = {
    Kind.AIR: "with air",
    Kind.MIXED: "with another refrigerant",
    Kind.SHIFTED: "with its composition shifted",
}
_NAMED: Final = 4
"""Most designations that a name lists (a choice)."""
_BY_RECORD: Final = "by record"


@dataclass(frozen=True, slots=True)
class Name:
    """What paper and page may call the contents.

    Parameters
    ----------
    form : str
        ``single``: the bare designation may be written. ``with-something``: only together with what is in it.
        ``tentative``: likeliest of several. ``mixed``, ``unknown``, ``empty``: no designation may be written alone.
    text : str
        The name in words, for a sentence: ``R-410A``, ``R-410A with air``, ``R-410A or R-454B``.
    designation : str or None
        The main content, where there is one of ``LIKELY`` or more.
    ground : str
        What the name rests on.
    instead : tuple of str
        What else it may be, the likeliest first.
    probability : float
        Of the designation, with or without something else [-].
    """

    form: Form
    text: str
    designation: str | None = None
    ground: str = ""
    instead: tuple[str, ...] = ()
    probability: float = 0.0

    @property
    def mixed_on_record(self) -> bool:
        """The record says that it is a mixture, and no reading can say otherwise."""
        return self.form == "mixed" and self.ground == _BY_RECORD

    @property
    def bare(self) -> str | None:
        """The designation, where it may be written without a word beside it."""
        return self.designation if self.form == "single" else None


def name(state: CylinderState, belief: Belief) -> Name:
    """Name the contents by what is believed of them.

    Parameters
    ----------
    state : CylinderState
        Record and label, for the ground.
    belief : Belief
        What may be in it.
    """
    if belief.is_empty:
        return Name("empty", "empty", None, _empty_ground(state.contents, belief))
    first = belief.first
    if state.contents.is_mixed and (first is None or first.kinds.get(Kind.MIXED, 0.0) >= LIKELY):
        return Name("mixed", _mixture(state.contents), None, _BY_RECORD)
    if first is None or belief.unknown >= LIKELY:
        return Name("unknown", "unknown", None, "not identified", belief.believable[:_NAMED])
    others = tuple(_said(one) for one in _main_contents(belief) if one != first)
    ground = ground_of(state, first)
    if belief.probability(Kind.MIXED) >= LIKELY and first.probability < LIKELY:
        partners = tuple(one.designation for one in _main_contents(belief))
        return Name("mixed", f"a mixture with {_listed(partners)}", None, ground, partners)
    if first.probability < LIKELY:
        possible = (_said(first), *others)
        return Name("unknown", _listed(possible), None, ground, possible)
    kind = _kind_of(first)
    if kind is not None:
        text = f"{first.designation} {_WITH[kind]}"
        form: Form = "mixed" if kind is Kind.MIXED else "with-something"
        return Name(form, text, first.designation, ground, others, first.probability)
    if first.probability >= DECIDED or (first.source is Source.LABEL and not others):
        return Name("single", first.designation, first.designation, ground, others, first.probability)
    text = _listed((first.designation, *(others or ("something else",))))
    return Name("tentative", text, first.designation, ground, others, first.probability)


def ground_of(state: CylinderState, first: Content) -> str:
    """What a name rests on, in the words of the trade."""
    agrees = state.label == first.designation
    match first.source:
        case Source.VERDICT:
            # A label names a refrigerant alone: with air or another one in it the check does not agree.
            return "label, P-T check agrees" if agrees and first.alone >= LIKELY else "by P-T check"
        case Source.ANALYSIS:
            return "by laboratory analysis"
        case Source.RECORD:
            return "recovered, by record"
        case Source.LABEL:
            return "by label only" if agrees else "by an earlier label only"
        case Source.CARRIED:
            return "by an earlier check; not checked since"


def _kind_of(first: Content) -> Kind | None:
    """What has to be said beside the designation: the likeliest of what is with it, or the only believable."""
    worst = _worst(first)
    if first.alone < BELIEVABLE or first.kinds.get(worst, 0.0) >= LIKELY * first.probability:
        return worst
    return None


def _worst(content: Content) -> Kind:
    return max(_WITH, key=lambda kind: content.kinds.get(kind, 0.0))


def _said(content: Content) -> str:
    """A content with what is believed to be with it: alone it may be ruled out."""
    if content.alone >= BELIEVABLE:
        return content.designation
    return f"{content.designation} {_WITH[_worst(content)]}"


def _main_contents(belief: Belief) -> tuple[Content, ...]:
    return tuple(one for one in belief.contents if one.probability >= BELIEVABLE)


def _empty_ground(contents: Contents, belief: Belief) -> str:
    if contents.evacuated:
        return "evacuated"
    last = belief.believable
    return f"residue of {_listed(last)}, not evacuated" if last else "not evacuated"


def _mixture(contents: Contents) -> str:
    parts = sorted(contents.shares.items(), key=lambda item: -item[1])
    return ", ".join(f"{100.0 * share:.1f} % {part}" for part, share in parts)


def _listed(names: tuple[str, ...]) -> str:
    shown = list(names[:_NAMED])
    if len(names) > _NAMED:
        shown.append(f"one of {len(names) - _NAMED} more")
    return " or ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else shown[0]
