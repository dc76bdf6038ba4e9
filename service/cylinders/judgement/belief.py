"""What a cylinder may hold: designations, what may be with them, how likely, and where that comes from.

A belief changes in two ways. Evidence (a settled pair, an analysis, an evacuation that gauge and scale bear out)
replaces it. An act (something put in, drawn off, relabelled) carries it on: no act makes anything more certain, and
nothing that was suspected goes away because something was done.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from typing import Final

from service.cylinders.contents import SINGLE_SHARE

BELIEVABLE: Final = 0.02
"""From this probability on something counts as what the cylinder may hold (a judgement) [-]."""
LIKELY: Final = 0.50
"""From this probability on it is taken for what the cylinder holds until shown otherwise (a judgement) [-]."""
DECIDED: Final = 0.90
"""From this probability on it is named without a second name beside it (a judgement) [-]."""
RECORDED_SHIFT: Final = 0.9
"""So much of what would be one blend alone is taken for shifted once vapor was drawn off it (a judgement) [-]."""
SHOWING_LOSS: Final = 0.02
"""A smaller share lost as vapor does not show in the pressure (a judgement) [-]."""
_LEAST: Final = 5e-4
"""Contents with less probability are left out (a choice) [-]."""


class Source(StrEnum):
    """Where a belief comes from."""

    RECORD = "record"
    LABEL = "label"
    VERDICT = "verdict"
    CARRIED = "carried-over"
    ANALYSIS = "analysis"


class Kind(StrEnum):
    """What may be with a refrigerant, in order of seriousness; ``undetermined`` where no liquid was seen."""

    CLEAN = "clean"
    UNDETERMINED = "undetermined"
    SHIFTED = "shifted"
    AIR = "air"
    MIXED = "mixed"


_SERIOUS: Final = {kind: rank for rank, kind in enumerate(Kind)}


@dataclass(frozen=True)
class Content:
    """One refrigerant that may be the main content.

    Parameters
    ----------
    designation : str
        Its name.
    kinds : mapping of Kind to float
        Joint probability with what may be with it [-].
    partners : mapping of str to float
        Joint probability that another refrigerant is with it, by designation [-]. There may be several at once.
    source : Source
        Where this comes from.
    """

    designation: str
    kinds: Mapping[Kind, float]
    partners: Mapping[str, float] = field(default_factory=dict)
    source: Source = Source.VERDICT

    @cached_property
    def probability(self) -> float:
        """With or without anything else [-]."""
        return sum(self.kinds.values())

    @property
    def alone(self) -> float:
        """With nothing else that readings have shown [-]."""
        return self.kinds.get(Kind.CLEAN, 0.0) + self.kinds.get(Kind.UNDETERMINED, 0.0)


@dataclass(frozen=True)
class Belief:
    """Everything that the contents may be; what the probabilities leave to one is unknown.

    Parameters
    ----------
    contents : tuple of Content
        Each designation once, the likeliest first.
    is_empty : bool
        Nothing is in it, and nothing speaks against that; the contents are those of its residue.
    """

    contents: tuple[Content, ...] = ()
    is_empty: bool = False

    @property
    def unknown(self) -> float:
        """Probability of something that nothing here names [-]."""
        return 0.0 if self.is_empty else self.rest

    @property
    def rest(self) -> float:
        """What the contents leave to one, of a residue as well [-]."""
        return max(0.0, 1.0 - sum(one.probability for one in self.contents))

    @property
    def first(self) -> Content | None:
        """The likeliest main content."""
        return self.contents[0] if self.contents else None

    def probability(self, kind: Kind) -> float:
        """Of one kind over all designations [-]."""
        return sum(one.kinds.get(kind, 0.0) for one in self.contents)

    def of(self, designation: str) -> Content | None:
        """The entry of a designation, if it may be the main content."""
        return next((one for one in self.contents if one.designation == designation), None)

    def may_hold(self, test: Callable[[str], bool]) -> float:
        """Probability that any refrigerant in it, main content or partner, passes a test [-]."""
        return min(1.0, sum(_held(one, test) for one in self.contents))

    def may_bring(self, test: Callable[[str], bool]) -> float:
        """Probability that it brings a danger [-]: as `may_hold`, but of several labels the worst counts for all.

        A second label is no evidence against the first: it must not make what the first one brings less likely.
        """
        labels = [one for one in self.contents if one.source is Source.LABEL]
        brought = sum(_held(one, test) for one in self.contents if one.source is not Source.LABEL)
        if any(test(one.designation) for one in labels):
            brought += sum(one.probability for one in labels)
        return min(1.0, brought)

    @cached_property
    def believable(self) -> tuple[str, ...]:
        """Every designation that may be in it with ``BELIEVABLE`` or more, as main content or partner.

        The likeliest first. Where nothing reaches that, the likeliest one stands for all.
        """
        names: dict[str, float] = {}
        for one in self.contents:
            names[one.designation] = names.get(one.designation, 0.0) + one.probability
            for name, probability in one.partners.items():
                names[name] = names.get(name, 0.0) + probability
        ordered = sorted(names, key=lambda name: (-names[name], name))
        return tuple(name for name in ordered if names[name] >= BELIEVABLE) or tuple(ordered[:1])


def _held(one: Content, test: Callable[[str], bool]) -> float:
    if test(one.designation):
        return one.probability
    mixed = one.kinds.get(Kind.MIXED, 0.0)
    return min(mixed, sum(share for name, share in one.partners.items() if test(name)))


EMPTY: Final = Belief(is_empty=True)
"""What is believed of an empty, evacuated cylinder."""


def single(designation: str, trust: float, source: Source) -> Belief:
    """One refrigerant, as far as a record, a label or an analysis is trusted [-]."""
    return Belief((Content(designation, {Kind.CLEAN: trust}, {}, source),))


def claimed(claims: Sequence[str], trust: float) -> Belief:
    """What labels say, as far as they are trusted [-]: each claim about the same contents as good as the others."""
    share = trust / max(1, len(claims))
    return Belief(tuple(Content(name, {Kind.CLEAN: share}, {}, Source.LABEL) for name in claims))


def blended(shares: Mapping[str, float], trust: float, source: Source) -> Belief:
    """A mixture on record, by mass fraction [-]; the heaviest is the main content."""
    main = max(shares, key=lambda name: (shares[name], name))
    partners = {name: trust for name in shares if name != main}
    return Belief((Content(main, {Kind.MIXED: trust}, partners, source),))


def poured(held: Belief, incoming: Belief, *, held_kg: float | None, incoming_kg: float) -> Belief:
    """What is believed after something was put on top of something.

    Parameters
    ----------
    held, incoming : Belief
        Of what was in it, and of what went in.
    held_kg : float or None
        What was in it [kg]; None when it was not weighed.
    incoming_kg : float
        What went in [kg].

    Returns
    -------
    Belief
        A refrigerant stays as likely to be in it as it was before. A part below 0.5 % of the mass counts as none; a
        residue that was not evacuated is vapor that no scale shows, and of another refrigerant it stays with it.
    """
    residue = held.is_empty and not set(held.believable) <= set(incoming.believable)
    if residue:
        held, held_kg = replace(held, is_empty=False), None
    if held.is_empty or (held_kg is not None and held_kg <= (1.0 - SINGLE_SHARE) * (held_kg + incoming_kg)):
        return incoming
    if held_kg is not None and incoming_kg <= (1.0 - SINGLE_SHARE) * (held_kg + incoming_kg):
        return carried(held)
    on_top = residue or (held_kg is not None and incoming_kg > held_kg)
    found: dict[str, _Sum] = {}
    for one in _parts(held):
        for other in _parts(incoming):
            main, second = (other, one) if on_top and other.designation else (one, other)
            _meet(found, main, second, one.probability * other.probability)
    recorded = all(one.source is Source.RECORD for one in (*held.contents, *incoming.contents))
    return _ordered(found, Source.RECORD if recorded else Source.CARRIED)


def carried(belief: Belief) -> Belief:
    """The same belief, no longer resting on readings of the present contents.

    Of several labels each stays a label: an act makes what the worst of them brings no less likely (`may_bring`).
    """
    several = sum(one.source is Source.LABEL for one in belief.contents) > 1
    stays = (Source.RECORD, Source.LABEL) if several else (Source.RECORD,)
    kept = tuple(
        one if one.source in stays else replace(one, source=Source.CARRIED) for one in belief.contents
    )
    return replace(belief, contents=kept)


def vapour_drawn(belief: Belief, lost_fraction: float, glides: Callable[[str], bool]) -> Belief:
    """What is believed after a share of the charge came out as vapor: blends with glide have shifted [-]."""
    if lost_fraction < SHOWING_LOSS:
        return carried(belief)
    return carried(
        replace(
            belief,
            contents=tuple(_shifted(one) if glides(one.designation) else one for one in belief.contents),
        )
    )


def _shifted(one: Content) -> Content:
    kinds = dict(one.kinds)
    moved = RECORDED_SHIFT * kinds.get(Kind.CLEAN, 0.0)
    if moved > 0.0:
        kinds[Kind.CLEAN] -= moved
        kinds[Kind.SHIFTED] = kinds.get(Kind.SHIFTED, 0.0) + moved
    return replace(one, kinds=kinds)


@dataclass(slots=True)
class _Sum:
    """Joint probabilities of one main content, being added up."""

    kinds: dict[Kind, float] = field(default_factory=dict)
    partners: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Part:
    """One designation and kind; partners given this part. No designation: unknown."""

    designation: str | None
    kind: Kind
    probability: float
    partners: Mapping[str, float] = field(default_factory=dict)


def _parts(belief: Belief) -> Iterator[_Part]:
    for one in belief.contents:
        mixed = one.kinds.get(Kind.MIXED, 0.0)
        for kind, probability in one.kinds.items():
            with_it = {}
            if kind is Kind.MIXED and mixed > 0.0:
                with_it = {name: min(1.0, share / mixed) for name, share in one.partners.items()}
            yield _Part(one.designation, kind, probability, with_it)
    if belief.unknown > 0.0:
        yield _Part(None, Kind.UNDETERMINED, belief.unknown)


def _meet(found: dict[str, _Sum], main: _Part, second: _Part, probability: float) -> None:
    if main.designation is None:
        main, second = second, main
    if main.designation is None:
        return
    same = main.designation == second.designation
    kind = max(main.kind, second.kind, key=_SERIOUS.__getitem__) if same else Kind.MIXED
    total = found.setdefault(main.designation, _Sum())
    total.kinds[kind] = total.kinds.get(kind, 0.0) + probability
    partners = dict(second.partners)
    for name, share in main.partners.items():
        partners[name] = 1.0 - (1.0 - share) * (1.0 - partners.get(name, 0.0))
    if not same and second.designation is not None:
        partners[second.designation] = 1.0
    for name, share in partners.items():
        if name != main.designation:
            total.partners[name] = total.partners.get(name, 0.0) + share * probability


def _ordered(found: Mapping[str, _Sum], source: Source) -> Belief:
    contents = [Content(name, total.kinds, total.partners, source) for name, total in found.items()]
    kept = [one for one in contents if one.probability >= _LEAST]
    return Belief(tuple(sorted(kept, key=lambda one: (-one.probability, one.designation))))
