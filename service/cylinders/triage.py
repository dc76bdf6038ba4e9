"""An inherited cylinder, entered by its serial alone, led step by step to a label.

The steps done are read off the record, so that nothing has to be ticked.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class Step(StrEnum):
    """The steps, in order."""

    MARKS = "marks"
    WEIGHING = "weighing"
    HOOKUP = "hookup"
    VERDICT = "verdict"
    LABEL = "label"


_TEXT = {
    Step.MARKS: "Read the stamps: specification and pressure, water capacity, tare, requalification.",
    Step.WEIGHING: "Put it on a scale and enter the gross weight.",
    Step.HOOKUP: "Gauge on the vapor valve, thermometer low on the wall where the liquid is.",
    Step.VERDICT: "Wait until it is settled; the verdict comes by itself.",
    Step.LABEL: "Print the label and put it on.",
}


class Facts(NamedTuple):
    """What the record has of a cylinder."""

    marks_understood: bool
    has_capacity_and_tare: bool
    weighed: bool
    hooked_up: bool
    has_pairs: bool
    has_verdict: bool
    labelled: bool


@dataclass(frozen=True, slots=True)
class Progress:
    """Steps done, the next one, and what to do for it; ``next_step`` is None at the end."""

    done: tuple[Step, ...]
    next_step: Step | None
    text: str


def progress(facts: Facts) -> Progress:
    """How far a cylinder is; a step done out of order counts, the next one is the first that is missing."""
    finished = {
        Step.MARKS: facts.marks_understood and facts.has_capacity_and_tare,
        Step.WEIGHING: facts.weighed,
        Step.HOOKUP: facts.hooked_up or facts.has_pairs,
        Step.VERDICT: facts.has_verdict,
        Step.LABEL: facts.labelled,
    }
    done = tuple(step for step in Step if finished[step])
    following = next((step for step in Step if not finished[step]), None)
    return Progress(done, following, _TEXT[following] if following else "Done.")
