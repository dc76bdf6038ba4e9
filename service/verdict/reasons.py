"""Why, in plain words with the numbers in them, in the units that technicians read."""

from __future__ import annotations

import math

import numpy as np

from service.codes import ClaimFinding, ContaminationFinding, IdentityFinding
from service.units import c_from_k, f_from_k, kpa_from_pa, psi_from_pa
from service.verdict import chebyshev, reads_the_same
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import AirEstimate, Claim, Contamination, ContentsState, Findings, Identity
from service.verdict.posterior import Posterior

_INDISTINCT = 0.05
"""Least probability of a rival that is told (a choice) [-]."""
_POORLY_SEEN = 0.10
"""A detection limit above this mass fraction is told as poor (a choice) [-]."""
_AGREES = 0.90
"""From this probability on readings and label are said to agree (a choice) [-]."""
_OILY = 0.6
"""From this share of what is clean on, oil is more than the usual chance of some and is told (a judgement) [-]."""


def temperature(temp_k: float) -> str:
    """24.8 °C (76.6 °F)."""
    return f"{c_from_k(temp_k):.1f} °C ({f_from_k(temp_k):.1f} °F)"


def pressure(pressure_pa: float) -> str:
    """1044 kPa (151.4 psi)."""
    return f"{kpa_from_pa(pressure_pa):.0f} kPa ({psi_from_pa(pressure_pa):.1f} psi)"


def difference(temp_k: float) -> str:
    """+0.2 K (+0.4 °F)."""
    return f"{_signed(temp_k)} K ({_signed(1.8 * temp_k)} °F)"


def _signed(value: float) -> str:
    """+0.2, -1.7, and never -0.0."""
    return f"{round(value, 1) + 0.0:+.1f}"


def write(posterior: Posterior, space: HypothesisSpace, findings: Findings) -> tuple[str, ...]:
    """All reasons of one verdict, the weightiest first."""
    identity, contamination = findings.identity, findings.contamination
    lines: list[str] = []
    lines += _state(findings.contents_state)
    lines += _no_refrigerant(posterior)
    lines += _dense(posterior, space)
    if (
        identity.finding == IdentityFinding.UNRECOGNISED
        and posterior.no_refrigerant < 0.5 * posterior.something_else
    ):
        lines.append(_unrecognised(posterior))
    lines += _readings(posterior, space)
    lines += _label(posterior, space, findings.claim)
    lines += reads_the_same.sentences(findings.reads_the_same)
    lines += _contamination(posterior, contamination)
    lines += _rivals(posterior, identity)
    lines += _unseen(contamination)
    lines.append(
        f"{space.size:,} hypotheses were weighed: {len(space.designations)} designations alone, with air, "
        "with vapor lost, and mixed."
    )
    return tuple(lines)


def _state(state: ContentsState) -> list[str]:
    full, vapour = state.probabilities["liquid-full"], state.probabilities["vapour-only"]
    if full >= 0.1:
        return [
            f"DANGER: the pressure is above saturation; liquid-full with probability {full:.2f}. "
            "Pressure then rises by several bar (over 100 psi) per kelvin."
        ]
    if vapour >= 0.5:
        return [
            f"The pressure is too low for liquid to be present (probability {vapour:.2f}): empty or "
            "vapor only. "
            "Without liquid, pressure and temperature do not tell which refrigerant it is; "
            "weigh the cylinder."
        ]
    return []


def _no_refrigerant(posterior: Posterior) -> list[str]:
    """What an open cylinder, or one under a holding charge, would read like too."""
    if posterior.evidence.at_atmosphere:
        return [
            "The gauge stands at the air's own pressure: an open cylinder, or a closed valve, reads so too (no "
            f"refrigerant has probability {posterior.no_refrigerant:.2f}). Open the valve to the gauge; weigh the "
            "cylinder and compare with its tare."
        ]
    if posterior.no_refrigerant < _INDISTINCT:
        return []
    return [
        f"Air or nitrogen alone would read so too (probability {posterior.no_refrigerant:.2f}): open to the air, or "
        "under a holding charge. Weigh the cylinder and compare with its tare."
    ]


def _dense(posterior: Posterior, space: HypothesisSpace) -> list[str]:
    """Why a gas above the end of its saturation curve is named, and what cannot be told of it."""
    if not posterior.is_dense():
        return []
    name = space.designations[int(posterior.dense.argmax())]
    return [
        f"So warm {name} has no liquid, and its pressure goes by how full the cylinder is: the pressure names it by "
        "its height alone (probability "
        f"{float(posterior.dense.max()):.2f}), and air or another refrigerant in it cannot be seen. Cool it and read "
        "again."
    ]


def _unrecognised(posterior: Posterior) -> str:
    if posterior.evidence.count > 1:
        return (
            "The readings fit no refrigerant of the catalogue in any state; they may contradict each other. "
            "Check that both instruments were on this cylinder and that every state had settled."
        )
    return (
        "The reading fits no refrigerant of the catalogue in any state. Check valve, instruments and units."
    )


def _readings(posterior: Posterior, space: HypothesisSpace) -> list[str]:
    """How far each pair lies from the clean curve of the first candidate."""
    if posterior.two_phase < 0.5 and not posterior.unrecognised():
        return []
    index = int(posterior.identity.argmax())
    best = space.designations[index]
    evidence = posterior.evidence
    block = space.blocks["none"]
    lines = []
    for temp, log_pressure in zip(evidence.temp_k, evidence.log_pressure, strict=True):
        if not block.low_k[index] <= temp <= block.high_k[index]:
            lines.append(f"{temperature(temp)} is outside the saturation curve of {best}.")
            continue
        at = np.array([temp])
        clean = float(space.clean[index] @ chebyshev.values(at)[:, 0])
        slope = float(space.clean[index] @ chebyshev.slopes(at)[:, 0])
        away = float(log_pressure - clean)
        lines.append(
            f"At {temperature(temp)} clean {best} stands at {pressure(math.exp(clean))} "
            "absolute; "
            f"read {pressure(math.exp(log_pressure))}: {_signed(100 * math.expm1(away))} %, "
            f"worth {difference(away / slope)}."
        )
    return lines


def _label(posterior: Posterior, space: HypothesisSpace, claim: Claim | None) -> list[str]:
    if claim is None:
        return []
    name, others = claim.designation, posterior.identity.copy()
    others[space.designations.index(name)] = 0.0
    rival = int(others.argmax())
    if claim.clean >= _AGREES:
        return [f"The label says {name}, and the readings agree."]
    so = ", and the readings contradict it" if claim.finding == ClaimFinding.CONTRADICTED else ""
    return [
        f"The label says {name}{so}: clean {name} has probability {claim.clean:.2f}, {name} with something "
        f"else in it {claim.probability - claim.clean:.2f}, {space.designations[rival]} instead "
        f"{float(others[rival]):.2f} (clean {float(posterior.by_state['none'][rival]):.2f})."
    ]


def _contamination(posterior: Posterior, contamination: Contamination) -> list[str]:
    lines = []
    if contamination.finding == ContaminationFinding.NONE_DETECTED:
        lines.append(
            "Nothing else was detected; that is no proof of purity, which only the laboratory analysis of "
            "the reclaim standard gives."
        )
    if contamination.air is not None:
        lines.append(_air(contamination.air, posterior.contamination["air"]))
    for partner in contamination.partners:
        if partner.probability >= _INDISTINCT:
            lines.append(
                f"About {100 * partner.mass_fraction:.0f} % of {partner.contaminant} in "
                f"{partner.designation} would explain the readings (probability {partner.probability:.2f})."
            )
    several = float(posterior.several.sum())
    if several >= _INDISTINCT:
        lines.append(
            f"A mixture of three refrigerants or more would fit too (probability {several:.2f}); "
            "which ones cannot be told from pressure."
        )
    oil = float(posterior.oil.sum())
    if oil >= _OILY * posterior.contamination["none"] and oil >= _INDISTINCT:
        lines.append(
            f"Dissolved oil may be what lowers the pressure (probability {oil:.2f}): it is no other refrigerant, and a "
            "laboratory finds how much."
        )
    shifted = posterior.contamination["shifted"]
    if shifted >= _INDISTINCT and not posterior.is_dense():
        lines.append(
            f"A blend that lost part of its charge as vapor would fit too (probability {shifted:.2f})."
        )
    return lines


def _air(air: AirEstimate, probability: float) -> str:
    low, high = air.partial_pressure_low_pa, air.partial_pressure_high_pa
    dissolved = f"; {100 * air.dissolved_fraction:.0f} % of it is dissolved in the liquid (estimate)"
    over = None if air.excess_share is None else 100 * air.excess_share
    excess = "" if over is None else f", {over:.1f} points over the reclaim standard's 1.5 %"
    mass = "" if air.mass_kg is None else f", about {1e3 * air.mass_kg:.0f} g in all"
    return (
        f"Air would explain the readings with probability {probability:.2f}: "
        f"{pressure(air.partial_pressure_pa)} of air at 25 °C "
        f"(95 % between {kpa_from_pa(low):.0f} and {kpa_from_pa(high):.0f} kPa), "
        f"{100 * air.vapour_volume_share:.1f} % of the vapor by volume{excess}{mass}{dissolved}."
    )


def _unseen(contamination: Contamination) -> list[str]:
    """What these readings could not have shown: in one sentence, then each mixture that hides twice."""
    limits = contamination.detection_limits
    blind = [x.contaminant for x in limits if x.mass_fraction is None and x.partial_pressure_pa is None]
    lines = [f"These readings could not show any share of {', '.join(blind)} in it."] if blind else []
    poor = [x for x in limits if x.mass_fraction is not None and x.mass_fraction > _POORLY_SEEN]
    if poor:
        shares = ", ".join(f"{x.contaminant} below {100 * (x.mass_fraction or 0.0):.0f} %" for x in poor)
        lines.append(
            f"Nor could they show {shares}." if blind else f"These readings could not show {shares}."
        )
    lines += [x.note for x in limits if x.note is not None and "extreme" in x.note]
    if limits:
        lines.append(
            "Limits are worked out for the likeliest contaminants: one that is not listed may hide as well."
        )
    return lines


def _rivals(posterior: Posterior, identity: Identity) -> list[str]:
    rivals = [c for c in identity.candidates[1:6] if c.probability >= _INDISTINCT]
    if not rivals or posterior.unrecognised() or posterior.two_phase < 0.5:
        return []
    named = ", ".join(
        f"{c.designation} ({c.probability:.2f}"
        + ("" if c.temp_difference_k is None else f", {difference(c.temp_difference_k)} from its own curve")
        + ")"
        for c in rivals
    )
    return [f"Not ruled out: {named}."]
