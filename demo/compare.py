"""Whether a hidden truth lies within what a verdict says; pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from demo.scenario import Truth

CREDIBLE = 0.05
"""What a verdict gives less than this, it has excluded; its sets hold 95 %."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """One cylinder's truth against its verdict: every way in which they disagree, in words."""

    disagreements: tuple[str, ...]

    @property
    def within(self) -> bool:
        """Whether the truth lies within what the verdict says."""
        return not self.disagreements


def compare(truth: Truth, verdict: Mapping[str, Any]) -> Comparison:
    """Hold a verdict, as the API answers it, against the truth.

    Parameters
    ----------
    truth : Truth
        What the cylinder really holds.
    verdict : Mapping[str, Any]
        A verdict document.
    """
    return Comparison(
        (*_identity(truth, verdict["identity"]), *_state(truth, verdict), *_contamination(truth, verdict))
    )


def _identity(truth: Truth, identity: Mapping[str, Any]) -> Iterator[str]:
    listed = [candidate["designation"] for candidate in identity["candidates"]]
    if truth.designation not in listed and identity["finding"] != "unrecognised":
        yield f"{truth.designation} is not in the 95 % set ({', '.join(listed)})"


def _state(truth: Truth, verdict: Mapping[str, Any]) -> Iterator[str]:
    given = verdict["contents_state"]["probabilities"][truth.state]
    if given < CREDIBLE:
        yield f"{truth.state} is given {given:.2f}"


def _contamination(truth: Truth, verdict: Mapping[str, Any]) -> Iterator[str]:
    contamination, kind = verdict["contamination"], truth.contamination
    if kind == "none-detected":
        given = contamination["probabilities"]["none"]
        if contamination["finding"] != "none-detected" and given < CREDIBLE:
            yield f"clean, and called {contamination['finding']} with {1 - given:.2f}"
        return
    given = contamination["probabilities"][kind]
    if given >= CREDIBLE or _below_limit(truth, contamination["detection_limits"]):
        yield from _amount_of_air(truth, contamination)
        return
    yield f"{kind} is given {given:.2f}, and it is above the detection limit"


def _amount_of_air(truth: Truth, contamination: Mapping[str, Any]) -> Iterator[str]:
    air = contamination.get("air")
    if truth.air_kpa is None or contamination["finding"] != "air" or not air:
        return
    low, high = air["partial_pressure_low_kpa"], air["partial_pressure_high_kpa"]
    if not low <= truth.air_kpa <= high:
        yield f"{truth.air_kpa:.0f} kPa of air, outside {low:.0f} to {high:.0f}"


def _below_limit(truth: Truth, limits: list[Mapping[str, Any]]) -> bool:
    for limit in limits:
        if limit["contaminant"] == "air" and truth.air_kpa is not None:
            seen_from = limit.get("partial_pressure_kpa")
            return seen_from is None or truth.air_kpa < seen_from
        if limit["contaminant"] == truth.mixed_with and truth.mixed_fraction is not None:
            share = limit.get("mass_fraction")
            return share is None or truth.mixed_fraction < share
    return False
