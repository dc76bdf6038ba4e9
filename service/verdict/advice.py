"""The disposition in words: what is in the cylinder by the findings, and what to do with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from service.codes import (
    ClaimFinding,
    ContaminationFinding,
    ContentsFinding,
    DispositionCode,
    IdentityFinding,
)
from service.verdict.model import Candidate, Claim, Findings, Identity

LIQUID_FULL = (
    "The cylinder may be full of liquid: pressure can rise by several bar (over 100 psi) per kelvin. Keep it "
    "cool and out of the sun, keep people away, and have a certified technician take liquid out into an "
    "empty cylinder."
)
"""What is said of a cylinder that may be full of liquid; the rise is that of `STIFFNESS_PA_K`."""
_NAMED = 3
"""Most designations that a sentence names (a choice)."""
_BELIEVABLE = 0.05
"""Beside air alone a designation of this probability is named (a choice) [-]."""
_HARDLY_CLEAN, _MOSTLY = 0.05, 0.9
"""A name stands alone unless it is clean in less than this share of its probability; one contamination is named where
it holds that much of the rest (a choice) [-]."""
_WITH = {
    "air": "{} with air in it",
    "shifted": "{} whose composition has shifted",
    "mixed": "{} with another refrigerant in it",
}
_LIKELY = {
    "air": "{} with something else in it, most likely air",
    "shifted": "{} with something wrong, most likely a shifted composition",
    "mixed": "{} with something else in it, most likely another refrigerant",
}
_NOTHING_MOVES = "Nothing in or out until a supervisor releases it."


def listed(names: Sequence[str], joiner: str = "or", most: int = _NAMED) -> str:
    """``R-22, R-290 or R-1270``, and how many more there are."""
    shown, left = list(names[:most]), len(names) - most
    if left > 0:
        shown.append("one other" if left == 1 else f"one of {left} others")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {joiner} {shown[-1]}"


def named(candidate: Candidate) -> str:
    """A designation, never bare where it is believable only with something else in it."""
    bad = {state: candidate.states.get(state, 0.0) for state in _WITH}
    total = sum(bad.values())
    if not candidate.states or candidate.probability - total >= _HARDLY_CLEAN * candidate.probability:
        return candidate.designation
    likeliest = max(bad, key=lambda state: bad[state])
    words = _WITH[likeliest] if bad[likeliest] >= _MOSTLY * total else "{} with something else in it"
    return words.format(candidate.designation)


def contents(identity: Identity) -> str:
    """What is in it, by the identity alone."""
    if identity.finding == IdentityFinding.UNRECOGNISED or not identity.candidates:
        return "something that fits no refrigerant in the catalog"
    if identity.finding == IdentityFinding.IDENTIFIED:
        return identity.candidates[0].designation
    return listed([named(candidate) for candidate in identity.candidates])


def write(code: str, findings: Findings) -> str:
    """
    What to do and why, naming the refrigerant.

    Parameters
    ----------
    code : str
        A disposition.
    findings : Findings
        What was found.

    Returns
    -------
    str
        Never "nothing was detected" unless that is the finding, and never "pure".
    """
    claim = findings.claim
    if claim is not None and claim.finding == ClaimFinding.CONTRADICTED:
        return _contradicted(code, claim, findings)
    return _TEXTS[code](findings)


def _contradicted(code: str, claim: Claim, findings: Findings) -> str:
    says = f"The label says {claim.designation}, and these readings contradict it"
    if findings.empty:
        return f"{says}. {_empty(findings)}"
    if findings.identity.finding == IdentityFinding.UNRECOGNISED:
        says = f"{says}: they fit no refrigerant in the catalog."
    elif findings.contents_state.finding == ContentsFinding.VAPOR_ONLY:
        says = f"{says}."
    else:
        says = f"{says}: they fit {_with_findings(findings)}."
    if code == DispositionCode.HOLD:
        return f"{says} Hold: find out what is in it and relabel it. {_NOTHING_MOVES}"
    return f"{says} {_TEXTS[code](findings)}"


def _keep(findings: Findings) -> str:
    claim, identity = findings.claim, findings.identity
    name = claim.designation if claim is not None else identity.candidates[0].designation
    text = f"Keep in use as {name}."
    others = [c.designation for c in identity.candidates if c.designation != name]
    if identity.finding == IdentityFinding.NARROWED and others:
        text += f" The label decides: these readings cannot tell it from {listed(others)}."
    if findings.reads_the_same is not None and findings.reads_the_same.loud:
        text += " These readings also fit contents that are more hazardous: read the cautions first."
    if findings.contamination.finding == ContaminationFinding.NONE_DETECTED:
        return f"{text} Nothing else was detected; the detection limits say what these readings can miss."
    bad = 1.0 - findings.contamination.probabilities["none"]
    return (
        f"{text} Contamination is not ruled out (probability {bad:.2f}); the detection limits say what these "
        "readings can miss."
    )


def _with_findings(findings: Findings) -> str:
    """What is in it, with the contamination that was found."""
    identity, found = findings.identity, findings.contamination.finding
    if identity.finding != IdentityFinding.IDENTIFIED:
        return contents(identity)
    if found == ContaminationFinding.UNDECIDED:
        return named(identity.candidates[0])
    bad = {state: findings.contamination.probabilities[state] for state in _WITH}
    if found in bad and bad[found] < _MOSTLY * sum(bad.values()):
        return _LIKELY[found].format(contents(identity))
    return _WITH.get(found, "{}").format(contents(identity))


def _measure_again(findings: Findings) -> str:
    if findings.contents_state.finding == ContentsFinding.VAPOR_ONLY:
        return "Without liquid these readings do not tell what it is: see the next measurement."
    if findings.empty:
        return _empty(findings)
    if findings.identity.finding == IdentityFinding.UNRECOGNISED:
        fits = "The readings fit no refrigerant in the catalog."
    elif findings.identity.finding == IdentityFinding.NARROWED:
        fits = f"Could be {contents(findings.identity)}."
    else:
        fits = f"It holds {_with_findings(findings)}, as far as these readings can tell."
    return f"{fits} Measure again before anything goes in or out: see the next measurement."


def _hold(findings: Findings) -> str:
    if findings.contents_state.finding == ContentsFinding.VAPOR_ONLY:
        return f"Hold: there is no liquid in it, and the readings do not tell what it is. {_NOTHING_MOVES}"
    if findings.empty:
        return f"Hold: nothing in or out until that is certain. {_empty(findings)}"
    if findings.identity.finding == IdentityFinding.UNRECOGNISED:
        return f"Hold: the readings fit no refrigerant in the catalog. {_NOTHING_MOVES}"
    name = _with_findings(findings)
    if findings.identity.finding == IdentityFinding.NARROWED:
        return f"Hold: could be {name}, and these readings cannot tell. {_NOTHING_MOVES}"
    if findings.contamination.finding == ContaminationFinding.UNDECIDED:
        clean = findings.identity.candidates[0].designation
        return f"Hold: contamination of {clean} is not ruled out. {_NOTHING_MOVES}"
    return f"Hold: {name}. {_NOTHING_MOVES}"


def _empty(findings: Findings) -> str:
    """Of a cylinder that reads like air or nitrogen alone, and what else it may be."""
    others = [one.designation for one in findings.identity.candidates if one.probability >= _BELIEVABLE]
    text = "It reads like air or nitrogen alone: there may be no refrigerant in it."
    if others:
        text += f" It could be {listed(others)} as well."
    return f"{text} Weigh it and compare with its tare; if it is empty, evacuate it before anything goes in."


def _recycle(findings: Findings) -> str:
    name = contents(findings.identity)
    sure = "Air" if findings.contamination.finding == ContaminationFinding.AIR else "Probably air"
    return (
        f"{sure} in {name}: let recovery and recycling equipment take the air off, where the law allows; "
        "never vent it. Then measure again."
    )


def _reclaim(findings: Findings) -> str:
    name, found = contents(findings.identity), findings.contamination.finding
    sure = (
        f"{name} whose composition has shifted"
        if found == ContaminationFinding.SHIFTED
        else f"Probably not clean {name}"
    )
    return f"{sure}: send to a reclaimer with this verdict. Do not top up and do not use as {name}."


def _destroy(findings: Findings) -> str:
    name = contents(findings.identity)
    sure = (
        "A mixture" if findings.contamination.finding == ContaminationFinding.MIXED else "Probably a mixture"
    )
    return (
        f"{sure} of {name} with another refrigerant, which a reclaimer can probably not separate: ask the "
        "reclaimer first, expect destruction at your expense."
    )


_TEXTS: dict[str, Callable[[Findings], str]] = {
    DispositionCode.KEEP: _keep,
    DispositionCode.MEASURE_AGAIN: _measure_again,
    DispositionCode.HOLD: _hold,
    DispositionCode.RECOVER_AND_RECYCLE: _recycle,
    DispositionCode.SEND_TO_RECLAIMER: _reclaim,
    DispositionCode.SEND_FOR_DESTRUCTION: _destroy,
}
