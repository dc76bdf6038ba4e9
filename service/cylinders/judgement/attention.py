"""Which causes stand now: those that stood and have not ended, and those that begin."""

from collections.abc import Mapping

from service.codes import Severity, Standing
from service.cylinders.judgement.cause_rules import RULES
from service.cylinders.judgement.causes import Cause, Kind, Seen, Signal, Stood, Thresholds

_RANK = {Severity.CRITICAL: 0, Severity.WARNING: 1, Severity.NOTICE: 2}
"""Order in which causes stand, the most serious first."""


def attention(
    seen: Seen, stood: Mapping[str, Stood], thresholds: Thresholds | None = None
) -> tuple[Cause, ...]:
    """Every cause that stands, the most serious first.

    Parameters
    ----------
    seen : Seen
        What is known now.
    stood : mapping of str to Stood
        The causes that were noted down and have not ended, by kind.
    thresholds : Thresholds, optional
        The usual ones unless given.

    Returns
    -------
    tuple of Cause
        A cylinder that left the shop's service needs nobody here.
    """
    if seen.state.standing != Standing.IN_SERVICE:
        return ()
    limits, found = thresholds or Thresholds(), []
    for kind, rule in RULES.items():
        before = stood.get(kind)
        cause = _cause(kind, rule(seen, before, limits), before)
        if cause is not None:
            found.append(cause)
    return tuple(sorted(found, key=lambda cause: (_RANK[cause.severity], list(RULES).index(cause.kind))))


def _cause(kind: Kind, signal: Signal | None, before: Stood | None) -> Cause | None:
    if signal is not None and signal.raise_it:
        milder = (
            before is not None
            and before.severity == Severity.CRITICAL
            and signal.severity != Severity.CRITICAL
        )
        severity = Severity.CRITICAL if milder else signal.severity
        return Cause(kind, severity, signal.text, before.since if before else None, signal.figures)
    if before is None or (signal is not None and signal.clear_it):
        return None
    return Cause(kind, before.severity, before.text, before.since, before.figures)
