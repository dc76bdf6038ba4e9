"""What is always on screen, and what this verdict adds to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from service.codes import ContaminationFinding
from service.refrigerants.catalogue import Refrigerant
from service.verdict import reads_the_same
from service.verdict.model import Findings, Identity, Pair

ALWAYS = (
    "A pressure-temperature check screens; it proves nothing about moisture, acid, oil or small amounts of "
    "another refrigerant.",
    "Never heat a cylinder above 52 °C (125 °F); warm only with lukewarm water or room air, never a flame.",
    "Gloves and eye protection; ventilate: refrigerant displaces oxygen.",
    "Only certified technicians handle refrigerant; local codes and the cylinder's own marks rule.",
)
"""Cautions that no verdict goes without; each is common practice of the trade."""
_HOT_K = 325.15
"""52 °C (125 °F), above which no cylinder may come (read on a university safety page; CGA P-1 from memory) [K]."""
_WORTH_A_WARNING = 0.02
"""From this probability on a refrigerant's hazard is warned of (a choice) [-]."""
_COMBUSTIBLE = (
    "Combustible gas was found that the likeliest contents do not explain: treat it as flammable, no ignition "
    "source, until a laboratory has named it."
)
_NEVER_VENT = (
    "Air or mixed refrigerant is never vented: purging is done through recovery equipment and where the law "
    "allows."
)


def write(findings: Findings, pairs: Sequence[Pair], catalogue: Mapping[str, Refrigerant]) -> tuple[str, ...]:
    """Cautions of one verdict, the pressing ones first."""
    lines: list[str] = []
    if findings.contents_state.probabilities["liquid-full"] >= 0.1:
        lines.append(
            "Danger: possibly full of liquid. Keep it cool, do not warm it, do not close it in a vehicle, "
            "keep people away."
        )
    if max(pair.temp_k for pair in pairs) > _HOT_K:
        lines.append("This cylinder is above 52 °C (125 °F): let it cool in the shade before anything else.")
    if findings.unexplained_gas:
        lines.append(_COMBUSTIBLE)
    lines += reads_the_same.caution(findings.reads_the_same)
    lines += _hazards(findings.identity, catalogue)
    if findings.contamination.finding in (ContaminationFinding.AIR, ContaminationFinding.MIXED):
        lines.append(_NEVER_VENT)
    return (*lines, *ALWAYS)


def _hazards(identity: Identity, catalogue: Mapping[str, Refrigerant]) -> list[str]:
    likely = [c.designation for c in identity.candidates if c.probability >= _WORTH_A_WARNING]
    classes = {name: catalogue[name].safety_class.value or "" for name in likely if name in catalogue}
    lines = []
    flammable = [name for name, letter in classes.items() if letter[1:2] in ("2", "3")]
    toxic = [name for name, letter in classes.items() if letter.startswith("B")]
    unknown = [name for name, letter in classes.items() if not letter]
    if flammable:
        lines.append(
            f"May be flammable ({_list(flammable)}): no ignition source, left-hand or rated fittings only."
        )
    if toxic:
        lines.append(f"May be toxic ({_list(toxic)}): do not breathe it; a leak empties the room first.")
    if unknown:
        lines.append(f"Safety class not known here ({_list(unknown)}): treat as flammable and toxic.")
    return lines


def _list(names: Sequence[str]) -> str:
    shown = ", ".join(names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} more"
