"""What is believed of contents, as it is kept: with each verdict, and with each epoch that an act began."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from service.codes import ContaminationFinding, DispositionCode
from service.cylinders.judgement.assessment import Assessment
from service.cylinders.judgement.belief import Belief, Content, Kind, Source
from service.store.cylinders import Cylinder, Epoch
from service.store.verdicts import VerdictGist
from service.verdict import reads_the_same
from service.verdict.model import BelievedContent, Verdict

KEY: Final = "belief"
_KINDS: Final = {
    "none": Kind.CLEAN,
    "air": Kind.AIR,
    "shifted": Kind.SHIFTED,
    "mixed": Kind.MIXED,
    "vapour-only": Kind.UNDETERMINED,
    "liquid-full": Kind.UNDETERMINED,
}
_STATES: Final = {Kind.CLEAN: "none", Kind.AIR: "air", Kind.SHIFTED: "shifted", Kind.MIXED: "mixed"}


@dataclass(frozen=True, slots=True)
class Kept:
    """What an epoch keeps of what was believed when it began, and what labels said since.

    Parameters
    ----------
    claims : tuple of str
        Every designation that a label gave to these contents before anything was measured.
    carried : Belief or None
        What was believed when they began, where more than the record says.
    assessment : Assessment or None
        The last verdict on the contents before, where it left something to be done.
    found_pressure_pa : float or None
        Absolute pressure that a reading showed where the record said empty [Pa].
    """

    claims: tuple[str, ...] = ()
    carried: Belief | None = None
    assessment: Assessment | None = None
    found_pressure_pa: float | None = None


NOTHING_KEPT: Final = Kept()


def kept(cylinder: Cylinder, epoch: Epoch) -> Kept:
    """Read what an epoch keeps; one of the first version keeps only what its record and label say."""
    document = epoch.contents or {}
    if KEY not in document:
        by_label = "shares" not in document or document.get("basis") == "claim"
        claim = cylinder.claimed_designation
        return Kept((claim,) if claim and by_label else ())
    told = document[KEY]
    carried, before = told.get("carried"), told.get("assessment")
    return Kept(
        tuple(told.get("claims", ())),
        None if carried is None else read_belief(carried),
        None if before is None else replace(read_assessment(before), carried=True),
        told.get("found_pressure_pa"),
    )


def with_kept(document: Mapping[str, Any], what: Kept) -> dict[str, Any]:
    """An epoch's document with what it keeps."""
    told = {
        "claims": list(what.claims),
        "carried": None if what.carried is None else belief_document(what.carried),
        "assessment": None if what.assessment is None else assessment_document(what.assessment),
        "found_pressure_pa": what.found_pressure_pa,
    }
    return {**document, KEY: told}


def after_act(before: Assessment | None, carried: Belief) -> Assessment | None:
    """The last verdict as it goes on to speak after an act: only where it left something to be done, or open."""
    if before is None or (before.disposition == DispositionCode.KEEP and not before.not_excluded):
        return None
    return replace(before, belief=carried, carried=True, liquid_full=0.0)


def assessment_of(verdict: Verdict) -> Assessment:
    """What the judgement needs of a verdict."""
    air = verdict.contamination.air if verdict.contamination.finding == ContaminationFinding.AIR else None
    return Assessment(
        identity=verdict.identity.finding,
        candidates=tuple(candidate.designation for candidate in verdict.identity.candidates),
        contamination=verdict.contamination.finding,
        contents=verdict.contents_state.finding,
        disposition=verdict.disposition.code,
        text=verdict.disposition.text,
        belief=belief_of(verdict.believed or _of_first_version(verdict)),
        liquid_full=verdict.contents_state.probabilities.get("liquid-full", 0.0),
        air_partial_pressure_pa=air.partial_pressure_pa if air is not None else 0.0,
        not_excluded=reads_the_same.not_excluded(verdict.reads_the_same),
    )


def _of_first_version(verdict: Verdict) -> tuple[BelievedContent, ...]:
    """Identity and contamination were kept apart then: each designation is taken as likely to be contaminated."""
    shares = verdict.contamination.probabilities
    partners = {one.contaminant: one.probability for one in verdict.contamination.partners}
    return tuple(
        BelievedContent(
            one.designation,
            {state: share * one.probability for state, share in shares.items()},
            {name: share * one.probability for name, share in partners.items()},
        )
        for one in verdict.identity.candidates
    )


def belief_of(believed: Sequence[BelievedContent]) -> Belief:
    """A verdict's posterior as the belief that rests on it."""
    return Belief(tuple(_content(one) for one in believed))


def _content(one: BelievedContent) -> Content:
    kinds: dict[Kind, float] = {}
    for state, probability in one.states.items():
        kind = _KINDS.get(state, Kind.UNDETERMINED)
        kinds[kind] = kinds.get(kind, 0.0) + probability
    return Content(one.designation, kinds, dict(one.partners), Source.VERDICT)


def believed_of(belief: Belief) -> tuple[BelievedContent, ...]:
    """A belief as the prior of the next verdict; whether there was liquid does not go along."""
    return tuple(
        BelievedContent(
            one.designation,
            {
                _STATES[kind]: probability
                + (one.kinds.get(Kind.UNDETERMINED, 0.0) if kind is Kind.CLEAN else 0.0)
                for kind, probability in {Kind.CLEAN: 0.0, **one.kinds}.items()
                if kind in _STATES
            },
            one.partners,
        )
        for one in belief.contents
    )


def assessment_in(row: VerdictGist) -> Assessment:
    """What was kept of a verdict; of one of the first version, what the verdict itself says."""
    if row.gist is not None:
        return read_assessment(row.gist)
    if row.found is None:
        raise LookupError(f"verdict {row.id} has neither gist nor document")
    return assessment_of(row.found)


def assessment_document(found: Assessment) -> dict[str, Any]:
    """An assessment as JSON holds it."""
    return {
        "identity": found.identity,
        "candidates": list(found.candidates),
        "contamination": found.contamination,
        "contents": found.contents,
        "disposition": found.disposition,
        "text": found.text,
        "belief": belief_document(found.belief),
        "liquid_full": found.liquid_full,
        "air_partial_pressure_pa": found.air_partial_pressure_pa,
        "not_excluded": list(found.not_excluded),
    }


def read_assessment(document: Mapping[str, Any]) -> Assessment:
    """The assessment that was kept."""
    return Assessment(
        identity=document["identity"],
        candidates=tuple(document["candidates"]),
        contamination=document["contamination"],
        contents=document["contents"],
        disposition=document["disposition"],
        text=document["text"],
        belief=read_belief(document["belief"]),
        liquid_full=document["liquid_full"],
        air_partial_pressure_pa=document["air_partial_pressure_pa"],
        not_excluded=tuple(document.get("not_excluded", ())),
    )


def belief_document(belief: Belief) -> list[list[Any]]:
    """A belief as JSON holds it: designation, kinds, partners, source."""
    return [
        [
            one.designation,
            {str(kind): round(probability, 6) for kind, probability in one.kinds.items()},
            {name: round(probability, 6) for name, probability in one.partners.items()},
            str(one.source),
        ]
        for one in belief.contents
    ]


def read_belief(document: Sequence[Sequence[Any]]) -> Belief:
    """The belief that was kept."""
    return Belief(
        tuple(
            Content(name, {Kind(kind): share for kind, share in kinds.items()}, partners, Source(source))
            for name, kinds, partners, source in document
        )
    )
