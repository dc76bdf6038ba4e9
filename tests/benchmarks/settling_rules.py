"""The usual rules of thumb, so that the bench can set them beside the method: a fixed wait and a range."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Callable

from tests.benchmarks.settling_courses import ATMOSPHERE_PA
from tests.benchmarks.settling_links import Sent

Pair = tuple[float, float, float | None]


class Rule(ABC):
    """Last values of both sensors, and when it all began."""

    def __init__(self) -> None:
        self.last: dict[str, Sent] = {}
        self.start_s: float | None = None
        self.settled = False

    def take(self, sent: Sent) -> None:
        """Take one reading as it arrives; what goes beside clamp and gauge is nothing to a rule of thumb."""
        if sent.quantity not in ("wall-temperature", "gauge-pressure"):
            return
        if self.start_s is None:
            self.start_s = sent.stamp_s
        self.last[sent.quantity] = sent
        self.settled = len(self.last) == 2 and self.judge(sent)

    @abstractmethod
    def judge(self, sent: Sent) -> bool:
        """Whether the rule calls this settled."""

    def pair(self) -> Pair | None:
        """The last temperature [K] and absolute pressure [Pa]; a rule of thumb states no uncertainty."""
        if len(self.last) < 2:
            return None
        return self.last["wall-temperature"].value, self.last["gauge-pressure"].value + ATMOSPHERE_PA, None


class FixedWait(Rule):
    """Settled after a set time."""

    def __init__(self, wait_s: float) -> None:
        super().__init__()
        self.wait_s = wait_s

    def judge(self, sent: Sent) -> bool:
        """Whether the wait is over."""
        return self.start_s is not None and sent.stamp_s - self.start_s >= self.wait_s


class Range(Rule):
    """Settled when the thermometer has stayed within a range for a time."""

    def __init__(self, range_k: float, window_s: float) -> None:
        super().__init__()
        self.range_k, self.window_s = range_k, window_s
        self.values: deque[Sent] = deque()

    def judge(self, sent: Sent) -> bool:
        """Whether the window is full and its range small."""
        if sent.quantity == "wall-temperature":
            self.values.append(sent)
        while self.values and sent.stamp_s - self.values[0].stamp_s > self.window_s:
            self.values.popleft()
        full = self.start_s is not None and sent.stamp_s - self.start_s >= self.window_s
        temps = [v.value for v in self.values]
        return full and len(temps) > 2 and max(temps) - min(temps) < self.range_k


RULES: dict[str, Callable[[], Rule]] = {
    "fixed 5 min": lambda: FixedWait(300),
    "fixed 10 min": lambda: FixedWait(600),
    "fixed 15 min": lambda: FixedWait(900),
    "range 0.2 K in 5 min": lambda: Range(0.2, 300),
}
