"""A release into a closed space, in words."""

from dataclasses import dataclass

from service.board.quantities import SPACE, fixed
from service.board.wording import listed
from service.operations.release import Answer


@dataclass(frozen=True, slots=True)
class ReleaseView:
    """Whether it is dangerous, the numbers, the limits that are exceeded and what has to be said."""

    dangerous: bool
    facts: tuple[tuple[str, str], ...]
    breaches: tuple[str, ...]
    cautions: tuple[str, ...]


def release_view(answer: Answer) -> ReleaseView:
    """Write an answer; what was never weighed cannot be reckoned and is named."""
    found = answer.release
    share = found.rcl_share
    limit = "not known" if share is None else f"{fixed(100.0 * share, 0)}{SPACE}% of what may be breathed"
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
            ("Refrigerant in the air", f"{fixed(found.concentration_ppm, -2)}{SPACE}ppm by volume"),
            ("Against its concentration limits", limit),
            ("Oxygen left", f"{fixed(100.0 * found.oxygen_share, 1)}{SPACE}%"),
        ),
        breaches=tuple(
            f"{breach.detail[:1].upper()}{breach.detail[1:]}. {breach.rule.text} ({breach.rule.citation})"
            for breach in found.breaches
        ),
        cautions=tuple(cautions),
    )
