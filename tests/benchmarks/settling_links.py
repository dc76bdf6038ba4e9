"""How the settling bench's readings travel: instruments' noise and steps, and a radio with all its faults."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from typing import NamedTuple

from demo.physics import Rig

TICK_S = 2.0
Beside = dict[str, tuple[float, Callable[[], float]]]
"""What a site sends beside clamp and gauge: quantity, period [s] and how it reads."""


class Sent(NamedTuple):
    """One reading as it arrives."""

    arrival_s: float
    stamp_s: float
    quantity: str
    value: float


@dataclass(frozen=True, slots=True)
class Link:
    """How good the instruments and their radio are."""

    clamp_noise: tuple[float, float]
    clamp_steps: tuple[float, ...]
    gauge_noise_psi: tuple[float, float]
    gauge_steps_psi: tuple[float, ...]
    periods_s: tuple[float, ...]
    dropout: float
    duplicate: float
    late: float
    wild: float
    skew_s: float


LINKS = {
    "clean": Link((0.02, 0.06), (0.01, 0.05), (0.02, 0.08), (0.01, 0.1), (2.0, 5.0), 0.0, 0.0, 0.0, 0.0, 0.0),
    "typical": Link(
        (0.03, 0.15), (0.05, 0.1), (0.05, 0.25), (0.1, 0.5), (2.0, 5.0, 10.0), 0.02, 0.01, 0.01, 0.0005, 5.0
    ),
    "hostile": Link(
        (0.05, 0.3), (0.1, 0.5), (0.1, 0.5), (0.5, 1.0), (5.0, 10.0, 30.0), 0.1, 0.03, 0.03, 0.003, 30.0
    ),
}


class Sender:
    """Both instruments' radio: jitter, dropouts, repeats, late and wild readings, skewed clocks."""

    def __init__(self, link: Link, rng: Random, beside: Beside, beside_rng: Random) -> None:
        self.link, self.rng = link, rng
        self.beside, self.beside_rng = beside, beside_rng
        names = ("wall-temperature", "gauge-pressure")
        self.period = {name: rng.choice(link.periods_s) for name in names}
        self.due = {name: rng.uniform(0, period) for name, period in self.period.items()}
        self.skew = {name: rng.uniform(-link.skew_s, link.skew_s) for name in names}
        self.late: list[Sent] = []

    def send(self, t: float, rig: Rig) -> list[Sent]:
        """Return what arrives in this tick."""
        sent = [reading for name in self.period if t >= self.due[name] for reading in self._one(name, t, rig)]
        sent += [reading for reading in self.late if reading.arrival_s <= t]
        sent += self._beside(t)
        self.late = [reading for reading in self.late if reading.arrival_s > t]
        return sorted(sent)

    def _beside(self, t: float) -> list[Sent]:
        """What goes along, from a random stream of its own: the courses are the same without it."""
        rng, sent = self.beside_rng, []
        for name, (period_s, read) in self.beside.items():
            if t % period_s < TICK_S and rng.random() >= self.link.dropout:
                sent.append(Sent(t + rng.uniform(0.05, 1.0), t, name, read()))
        return sent

    def _one(self, name: str, t: float, rig: Rig) -> list[Sent]:
        link, rng = self.link, self.rng
        self.due[name] += self.period[name] * rng.uniform(0.9, 1.1)
        value = rig.clamp_reading() if name == "wall-temperature" else rig.gauge_reading()
        if rng.random() < link.dropout:
            return []
        if rng.random() < link.wild:
            value *= rng.choice((0.9, 1.1, 0.5))
        reading = Sent(t + rng.uniform(0.05, 1.0), t + self.skew[name], name, value)
        if rng.random() < link.late:
            self.late.append(reading._replace(arrival_s=t + rng.uniform(5, 60)))
            return []
        if rng.random() < link.duplicate:
            self.late.append(reading._replace(arrival_s=t + rng.uniform(1, 20)))
        return [reading]
