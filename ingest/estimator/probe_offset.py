"""Whether the clamp still sits where it did: its offset against the gauge before and after a disturbance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

UNSURE_K = 0.1
"""An offset seen while the cylinder drifted is doubtful by its gap; a probe that moved then must be put on again (a
choice) [K]."""
DOUBTED = 0.045
"""Nothing is claimed at a greater risk that the clamp sits otherwise by more than the budget: the risk that is taken of
lag and drift (a choice) [-]."""
DECISIVE_K = 0.1
"""An offset that is compared with no more than this standard deviation and found to be the same is trusted from then on
(a choice) [K]."""


@dataclass(frozen=True, slots=True)
class OffsetSettings:
    """What counts as moved; each value a choice, tried in simulation (`ingest/how-well.md`).

    Parameters
    ----------
    jump_k : float
        Change of the offset that means that the probe has moved, [K].
    forgets_k : float
        What was trusted is known less surely with time: standard deviation (judgement, no source), [K/sqrt(h)].
    slips, creeps, shift_k : float
        Chance that a disturbance left the clamp sitting otherwise, that an undisturbed one has poor contact, and
        standard deviation of its offset then (judgements, tried in simulation), [-], [-], [K].
    other_contents_k : float
        An offset further off than this after the pressure has moved is that of other contents, [K].
    jump_back_k : float
        The offset must come back to within this before a moved probe is trusted again, [K].
    gap_time_s : float
        Standard deviation of the gap between wall and surface per unit of drift, [s].
    slope_error : float
        Relative error of the pressure thermometer's slope, [-].
    """

    jump_k: float = 0.35
    forgets_k: float = 0.08
    slips: float = 0.2
    creeps: float = 0.05
    shift_k: float = 1.0
    other_contents_k: float = 1.5
    jump_back_k: float = 0.2
    gap_time_s: float = 430.0
    slope_error: float = 0.06


class Offset(NamedTuple):
    """The clamp's offset against the gauge, its variance [K2], and where the cylinder was then, at `stamp_s` [s]."""

    offset_k: float
    variance: float
    temp_k: float
    drift_k_s: float
    stamp_s: float = 0.0


class Shift(NamedTuple):
    """What an unexplained change of the offset may mean.

    `risk` is the probability that the clamp sits otherwise by more than the budget [-], `rms_k` the root mean square
    of by how much it does [K].
    """

    risk: float = 0.0
    rms_k: float = 0.0


NO_SHIFT = Shift()
"""Nothing is unexplained, or there is nothing to compare with."""


def shift(
    change_k: float, variance: float, budget_k: float, settings: OffsetSettings, chance: float
) -> Shift:
    """Weigh two causes of a change: what is uncertain of both offsets, and a clamp that sits otherwise.

    Bayes' rule for two normal distributions. Where the two offsets are known less well than the budget, a chance that
    the comparison has made smaller is no reason to hold a claim: no later comparison would ever end it.

    Parameters
    ----------
    change_k : float
        Change of the offset, [K].
    variance : float
        Its variance for a clamp that has not moved, [K2].
    budget_k : float
        Largest difference between clamp and saturation temperature that counts as settled, [K].
    settings : OffsetSettings
        How large a shift is.
    chance : float
        How likely one is beforehand, [-].

    Returns
    -------
    Shift
        Risk and size.
    """
    wide = variance + settings.shift_k**2
    fits = (1.0 - chance) / math.sqrt(variance) * math.exp(-0.5 * change_k * change_k / variance)
    slipped = chance / math.sqrt(wide) * math.exp(-0.5 * change_k * change_k / wide)
    share = slipped / (fits + slipped) if slipped > 0.0 else 1.0
    kept = settings.shift_k**2 / wide
    mean, left = change_k * kept, variance * kept
    scale = 1.0 / math.sqrt(2.0 * left)
    beyond = 0.5 * (math.erfc((budget_k - mean) * scale) + math.erfc((budget_k + mean) * scale))
    tells = share > chance or variance <= budget_k * budget_k
    return Shift(share * beyond if tells else 0.0, math.sqrt(share * (mean * mean + left)))


@dataclass(slots=True)
class OffsetMonitor:
    """Follows the offset of one clamp; held from a disturbance until the offset is known again.

    `trusted` is the last offset that nothing speaks against: that of a settled state, or the one just before a
    disturbance; `passed` once another one was found to be the same, `may_be_other` while the pressure has moved by
    itself since, `carried_k` what was unexplained when it was trusted [K]. `was_settled` tells a clamp that has been
    settled since the pressure moved last.
    """

    reference: Offset | None = None
    trusted: Offset | None = None
    held: bool = False
    moved: bool = False
    shift: Shift = NO_SHIFT
    passed: bool = False
    may_be_other: bool = False
    was_settled: bool = False
    carried_k: float = 0.0
    reattached: bool = False

    def disturbed(self, settings: OffsetSettings, *, touched: bool) -> None:
        """Hold on to what was known before the disturbance, in which the clamp was touched or not."""
        reference = self.reference
        if reference is not None and not self.held and not self.shift.risk > DOUBTED:
            before = self.trusted
            if before is None or _worth(reference, reference.stamp_s, settings) < _worth(
                before, reference.stamp_s, settings
            ):
                self.trusted = reference
                self.carried_k = math.hypot(self.carried_k, self.shift.rms_k)
        self.held, self.passed = reference is not None, False
        if touched:
            self.reattached = self.moved

    def forget(self) -> None:
        """What is in the cylinder is another, and the offset with it."""
        self.reference = self.trusted = None
        self.moved = self.passed = self.may_be_other = self.was_settled = False
        self.shift, self.carried_k = NO_SHIFT, 0.0

    def pressure_moved(self) -> None:
        """The pressure has moved by itself; what was trusted stays to be compared with."""
        self.reference = None
        self.moved = self.held = self.reattached = self.was_settled = False
        self.may_be_other = self.trusted is not None

    def check_trusted(
        self, now: Offset, settings: OffsetSettings, budget_k: float, *, is_settled: bool
    ) -> None:
        """Trust the offset of a settled state, or weigh how far another one is from what was trusted [K]."""
        before = self.trusted
        self.was_settled = self.was_settled or is_settled
        if is_settled or self.passed:
            self.trusted, self.carried_k = now, math.hypot(self.carried_k, self.shift.rms_k)
            self.shift, self.may_be_other = NO_SHIFT, False
        elif before is not None:
            variance = _variance(now, before, settings)
            variance += settings.forgets_k**2 * max(0.0, now.stamp_s - before.stamp_s) / 3600.0
            change_k = now.offset_k - before.offset_k
            if self.may_be_other and abs(change_k) > settings.other_contents_k + 2.0 * math.sqrt(variance):
                self.forget()
                return
            self.shift = shift(change_k, variance, budget_k, settings, settings.slips)
            self.passed = self.shift.risk <= DOUBTED and variance <= DECISIVE_K**2

    def compare(self, now: Offset, settings: OffsetSettings) -> None:
        """Take an offset that is known again, or follow the one of a quiet clamp."""
        before = self.reference
        if self.held and before is not None:
            unsure = abs(before.drift_k_s) * settings.gap_time_s > UNSURE_K
            if self.moved and unsure and not self.reattached:
                return
            if self.reattached:
                self.moved = self.reattached = False
            variance, allowed = now.variance + before.variance, settings.jump_back_k
            if not self.moved:
                variance, allowed = _variance(now, before, settings), settings.jump_k
            self.moved = abs(now.offset_k - before.offset_k) > allowed + 2.0 * math.sqrt(variance)
            if self.moved:
                return
        self.held = False
        self.reference = now


def _worth(of: Offset, now_s: float, settings: OffsetSettings) -> float:
    """Return the variance [K2] of an offset as that of a cylinder at rest at `now_s` [s]."""
    gap = settings.gap_time_s * of.drift_k_s
    return of.variance + gap * gap + settings.forgets_k**2 * (now_s - of.stamp_s) / 3600.0


def _variance(now: Offset, before: Offset, settings: OffsetSettings) -> float:
    """Return the variance [K2] by which two offsets of a clamp that has not moved may differ."""
    travel = settings.slope_error * (now.temp_k - before.temp_k)
    gap = settings.gap_time_s * (now.drift_k_s - before.drift_k_s)
    return now.variance + before.variance + travel * travel + gap * gap
