"""What a supervisor must see: each alarm is raised at one value and cleared at another.

So it does not chatter; and what is not known raises nothing and clears nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.cylinders.alarm_rules import RULES
from service.cylinders.alarm_signals import Kind, Observation, Severity, Thresholds


@dataclass(frozen=True, slots=True)
class Change:
    """An alarm raised, made more serious (``raised`` again), or cleared now.

    ``text`` has both unit systems; ``figures`` (SI, named with their units) are for whoever words it anew.
    """

    kind: Kind
    raised: bool
    severity: Severity
    text: str
    figures: Mapping[str, float] = field(default_factory=dict)


def changes(
    active: Mapping[str, str], seen: Observation, thresholds: Thresholds | None = None
) -> list[Change]:
    """Alarms to raise, to make more serious and to clear.

    Parameters
    ----------
    active : mapping of str to str
        Kind to severity of the alarms that stand.
    seen : Observation
        What is known now.
    thresholds : Thresholds, optional
        The owner's, else the usual ones.
    """
    limits, found = thresholds or Thresholds(), []
    for kind, rule in RULES.items():
        signal, standing = rule(seen, limits), active.get(kind)
        if signal is None:
            continue
        worse = signal.severity == "critical" and standing != "critical"
        if signal.raise_it and (standing is None or worse):
            found.append(Change(kind, True, signal.severity, signal.text, signal.figures))
        elif signal.clear_it and not signal.raise_it and standing is not None:
            found.append(Change(kind, False, signal.severity, signal.text, signal.figures))
    return found
