"""Assessments for tests of the judgement: what readings said, in a few words."""

from collections.abc import Mapping

from service.cylinders.judgement.assessment import Assessment
from service.cylinders.judgement.belief import DECIDED, Belief, Content, Kind

FINDINGS = {
    "clean": "none-detected",
    "air": "air",
    "shifted": "shifted",
    "mixed": "mixed",
    "undetermined": "undecided",
}


def read(
    shares: Mapping[str, float],
    *,
    kind: str = "clean",
    partners: Mapping[str, float] | None = None,
    disposition: str = "keep",
    contents: str = "two-phase",
    liquid_full: float = 0.0,
    carried: bool = False,
) -> Assessment:
    """What readings left: probability by designation, all of one kind [-]."""
    ordered = sorted(shares, key=lambda name: -shares[name])
    found = tuple(
        Content(name, {Kind(kind): shares[name]}, dict(partners or {}) if name == ordered[0] else {})
        for name in ordered
    )
    best = max(shares.values(), default=0.0)
    identity = "identified" if best >= DECIDED else "narrowed" if best > 0.0 else "unrecognised"
    return Assessment(
        identity=identity,
        candidates=tuple(ordered),
        contamination=FINDINGS[kind],
        contents=contents,
        disposition=disposition,
        text=f"{disposition} it",
        belief=Belief(found),
        liquid_full=liquid_full,
        air_partial_pressure_pa=50_000.0 if kind == "air" else 0.0,
        carried=carried,
    )
