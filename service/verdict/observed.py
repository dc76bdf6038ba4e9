"""What a detector and measured compositions said, in words, and whether the contents explain it."""

from __future__ import annotations

import numpy as np

from service.verdict.observations import Composition, LiquidLevel, Observations
from service.verdict.observing import ObservationBook
from service.verdict.posterior import Posterior

LEVEL_SLACK = 0.02
"""What weight and stamped capacity leave open of a liquid fraction (a judgement) [-]."""
EXPLAINED = 0.5
"""A detector that sounded is explained from this chance on that it does so for what is in it, and a
composition is called that of a designation that fits it so well (a judgement) [-]."""


def unexplained(found: Posterior, book: ObservationBook, seen: Observations) -> bool:
    """Whether combustible gas was found that the likeliest designation does not account for."""
    if not seen.combustible_gas:
        return False
    return bool(float(book.sounds[int(found.identity.argmax())]) < EXPLAINED)


def write(
    found: Posterior, book: ObservationBook, seen: Observations, density_kg_m3: float | None = None
) -> tuple[str, ...]:
    """One sentence for each observation; `density_kg_m3` is mass over volume of the contents, if known."""
    names = book.designations
    likeliest = int(found.identity.argmax())
    lines = []
    if seen.combustible_gas is not None:
        lines.append(_detector(names[likeliest], float(book.sounds[likeliest]), sounded=seen.combustible_gas))
    if seen.liquid is not None:
        asked = None if density_kg_m3 is None else book.expected_level(likeliest, density_kg_m3)
        lines.append(_level(seen.liquid, names[likeliest], asked))
    for composition in seen.compositions:
        fit = book.weights(Observations(compositions=(composition,)))
        agrees = float(np.exp(fit.alone[likeliest])) >= EXPLAINED * composition.trust
        lines.append(_composition(composition, names[likeliest], agrees=agrees))
    return tuple(lines)


def _level(level: LiquidLevel, name: str, asked: float | None) -> str:
    share = f"{100 * level.fraction:.0f} % of the cylinder (within {100 * level.uncertainty:.0f} %)"
    said = f"Liquid was seen to fill {share}"
    if asked is None:
        return f"{said}; with weight and water capacity that would tell its density."
    agrees = abs(asked - level.fraction) <= 2 * level.uncertainty + LEVEL_SLACK
    so = "as" if agrees else "and not as"
    return f"{said}, {so} its weight asks of {name}: {100 * asked:.0f} %."


def _detector(name: str, chance: float, *, sounded: bool) -> str:
    if sounded:
        told = (
            "explains that"
            if chance >= EXPLAINED
            else "does not explain that: something flammable may be in it"
        )
        return f"The detector found combustible gas; {name} {told}."
    return "The detector found no combustible gas, which makes flammable contents less likely and rules none out."


def _composition(found: Composition, name: str, *, agrees: bool) -> str:
    listed = ", ".join(f"{100 * share:.1f} % {part}" for part, share in found.mass_fractions.items())
    so = f"which is what {name} is made of" if agrees else f"which clean {name} is not"
    return f"A composition was measured, {listed} (each within {100 * found.uncertainty:.1f} %), {so}."
