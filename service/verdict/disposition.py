"""What to do with the cylinder: the choice of least expected cost, safety first."""

from __future__ import annotations

from service.verdict.model import Disposition
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings

LIQUID_FULL_ALARM = 0.10
"""From this probability on a liquid-full cylinder is treated as one [-]."""

_TEXTS = {
    "keep": "Keep in use for this refrigerant. Nothing was detected; "
    "the limits say what could not have been seen.",
    "measure-again": "Measure once more before anything goes in or out; see the next measurement.",
    "hold": "Set aside: nothing in or out until a supervisor releases it.",
    "recover-and-recycle": "Air in it: let recovery and recycling equipment take the air off, "
    "where the law allows; never vent it. Then measure again.",
    "send-to-reclaimer": "Send to a reclaimer with this verdict; do not top up and do not use as it is.",
    "send-for-destruction": "A mixture that a reclaimer can probably not separate: ask the reclaimer first, "
    "expect destruction at your expense.",
}
_LIQUID_FULL = (
    "The cylinder may be full of liquid: pressure can rise by several bar (over 100 psi) per kelvin. Keep it "
    "cool and out of the sun, keep people away, and have a certified technician take liquid out into an "
    "empty cylinder."
)


def worlds(posterior: Posterior) -> dict[str, float]:
    """Probability of each thing the cylinder may turn out to be, as far as costs are concerned."""
    states = {name: float(values.sum()) for name, values in posterior.by_state.items()}
    best = int(posterior.identity.argmax())
    certain = float(posterior.by_state["none"][best])
    return {
        "clean": certain,
        "air": states["air"],
        "shifted": states["shifted"],
        "mixed": states["mixed"],
        "vapour-only": states["vapour-only"],
        "liquid-full": states["liquid-full"],
        "unknown": posterior.something_else + states["none"] - certain,
    }


def choose(posterior: Posterior, settings: VerdictSettings, *, more_to_learn: bool) -> Disposition:
    """The choice of least expected cost; liquid-full overrides cost, and nothing is measured for nothing."""
    chances = worlds(posterior)
    costs = {
        code: sum(row[world] * chance for world, chance in chances.items())
        for code, row in settings.costs.items()
    }
    in_catalogue = 1.0 - posterior.something_else
    if chances["liquid-full"] >= LIQUID_FULL_ALARM * max(in_catalogue, 1e-12):
        return Disposition("hold", _LIQUID_FULL, costs)
    if not more_to_learn:
        costs.pop("measure-again")
    code = min(costs, key=lambda name: (costs[name], name))
    return Disposition(code, _TEXTS[code], costs)
