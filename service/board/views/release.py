"""A release into a closed space, in words."""

from dataclasses import dataclass

from service.board.phrases import listed
from service.board.quantities import SPACE, fixed
from service.cylinders.release import Release
from service.operations.release import Released


@dataclass(frozen=True, slots=True)
class ReleaseView:
    """Whether it is dangerous, the numbers, the limits that are exceeded and what has to be said."""

    dangerous: bool
    facts: tuple[tuple[str, str], ...]
    breaches: tuple[str, ...]
    cautions: tuple[str, ...]


def release_view(answer: Released) -> ReleaseView:
    """Write an answer; what was never weighed cannot be reckoned and is named."""
    found = answer.release
    share = found.rcl_share
    limit = "not known" if share is None else f"{fixed(100.0 * share, 0)}{SPACE}% of what may be breathed"
    if share is not None and found.unread_limits:
        limit += f" ({'; '.join(f'{name}: limit {mark}' for name, mark in found.unread_limits)})"
    cautions = list(found.cautions)
    if answer.unweighed:
        cautions.insert(0, f"Never weighed, so not reckoned with: {listed(list(answer.unweighed), 'and')}.")
    cautions += [
        f"Not as materials of trade: {breach.detail}. {breach.rule.text} ({breach.rule.citation})"
        for breach in answer.trade.breaches
    ]
    return ReleaseView(
        dangerous=bool(found.breaches),
        facts=(
            ("Cylinders", str(len(answer.serials))),
            *_air(found),
            ("Against its concentration limits", limit),
        ),
        breaches=tuple(
            f"{breach.detail[:1].upper()}{breach.detail[1:]}. {breach.rule.text} ({breach.rule.citation})"
            for breach in found.breaches
        ),
        cautions=tuple(cautions),
    )


def _air(found: Release) -> tuple[tuple[str, str], ...]:
    """What is left to breathe; nothing is written as 0.0 % or as a million parts."""
    if found.concentration_ppm is None or found.oxygen_share is None:
        return (("In the air", found.statement or ""),)
    return (
        ("Refrigerant in the air", f"{fixed(found.concentration_ppm, -2)}{SPACE}ppm by volume"),
        ("Oxygen left", f"{fixed(100.0 * found.oxygen_share, 1)}{SPACE}%"),
    )
