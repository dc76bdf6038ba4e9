"""What is counted: right first, set size and coverage, log score, calibration, false clean, false alarm."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.verdict.settings import VerdictSettings

CONTAMINATED = ("air", "shifted", "mixed")
BINS = 10


@dataclass(slots=True)
class Case:
    """One cylinder, one instrument, one judge.

    `clean_limit` is the stated detection limit for what is in it, `shift` the contamination in standard
    deviations of the evidence against the true refrigerant's clean curve.
    """

    judge: str
    instrument: str
    labelled: bool
    designation: str
    state: str
    amount: float
    identity: dict[str, float]
    states: dict[str, float]
    finding: str
    label_right: bool
    above_limit: bool | None
    shift: float
    seconds: float


def finding(states: dict[str, float], settings: VerdictSettings) -> str:
    """Contamination as the verdict names it, from the joint probabilities of the states."""
    if states["none"] >= settings.none_detected:
        return "none-detected"
    bad = {name: states.get(name, 0.0) for name in CONTAMINATED}
    likeliest = max(bad, key=lambda name: bad[name])
    if sum(bad.values()) >= settings.contaminated and bad[likeliest] >= 0.5:
        return likeliest
    return "undecided"


def credible_set(identity: dict[str, float], level: float = 0.95) -> list[str]:
    """Smallest set that holds the level."""
    chosen, total = [], 0.0
    for name, probability in sorted(identity.items(), key=lambda item: -item[1]):
        chosen.append(name)
        total += probability
        if total >= level:
            break
    return chosen


def summary(cases: list[Case]) -> dict[str, float]:
    """All figures of one row."""
    first = np.array([max(c.identity, key=lambda name: c.identity[name]) == c.designation for c in cases])
    sets = [credible_set(c.identity) for c in cases]
    top = np.array([max(c.identity.values()) for c in cases])
    truth = np.array([max(c.identity.get(c.designation, 0.0), 1e-9) for c in cases])
    clean = [c for c in cases if c.state == "none"]
    bad = [c for c in cases if c.state in CONTAMINATED]
    plain = [c for c in bad if c.shift >= 3.3]
    shown = [c for c in bad if c.label_right and c.above_limit]
    contaminated = np.array([sum(c.states.get(s, 0.0) for s in CONTAMINATED) for c in cases])
    is_bad = np.array([c.state in CONTAMINATED for c in cases])
    return {
        "cylinders": len(cases),
        "right_first": float(first.mean()),
        "set_size": float(np.mean([len(s) for s in sets])),
        "coverage": float(np.mean([c.designation in s for c, s in zip(cases, sets, strict=True)])),
        "log_score": float(np.log(truth).mean()),
        "calibration_error": calibration_error(top, first),
        "calibration_floor": calibration_floor(top),
        "calibration_error_all": calibration_error(*every_probability(cases)),
        "calibration_error_contaminated": calibration_error(contaminated, is_bad),
        "false_clean": _rate(bad, "none-detected"),
        "false_clean_plain": _rate(plain, "none-detected"),
        "false_clean_above_limit_label_right": _rate(shown, "none-detected"),
        "above_limit_label_right": len(shown),
        "false_alarm": float(np.mean([c.finding in CONTAMINATED for c in clean])),
        "clean_none_detected": _rate(clean, "none-detected"),
        "median_ms": 1e3 * float(np.median([c.seconds for c in cases])),
    }


def every_probability(cases: list[Case]) -> tuple[np.ndarray, np.ndarray]:
    """Every stated probability of a designation above 2 %, and whether it was right."""
    stated, right = [], []
    for case in cases:
        for name, probability in case.identity.items():
            if probability >= 0.02:
                stated.append(probability)
                right.append(name == case.designation)
    return np.array(stated), np.array(right)


def _rate(cases: list[Case], name: str) -> float:
    return float(np.mean([c.finding == name for c in cases])) if cases else float("nan")


def reliability(stated: np.ndarray, right: np.ndarray) -> list[tuple[float, float, int]]:
    """Mean stated probability, share right and count in equal-width bins."""
    at = np.clip((stated * BINS).astype(int), 0, BINS - 1)
    rows = []
    for b in range(BINS):
        inside = at == b
        if inside.any():
            rows.append((float(stated[inside].mean()), float(right[inside].mean()), int(inside.sum())))
    return rows


def calibration_error(stated: np.ndarray, right: np.ndarray) -> float:
    """Expected calibration error over equal-width bins."""
    rows = reliability(stated, right)
    total = sum(count for _, _, count in rows)
    return sum(abs(mean - share) * count for mean, share, count in rows) / total


def calibration_floor(stated: np.ndarray, rounds: int = 40) -> float:
    """What the error would be on average if every stated probability were exactly right: sampling alone."""
    rng = np.random.default_rng(1)
    return float(
        np.mean([calibration_error(stated, rng.random(stated.size) < stated) for _ in range(rounds)])
    )


def by_size(cases: list[Case]) -> dict[str, dict[str, float]]:
    """False-clean rate by kind and by how far the contamination stands out."""
    edges = (0.0, 1.0, 2.0, 3.3, 6.0, 12.0, np.inf)
    table: dict[str, dict[str, float]] = {}
    for kind in CONTAMINATED:
        row = {}
        for low, high in pairwise(edges):
            inside = [c for c in cases if c.state == kind and low <= c.shift < high]
            row[f"{low:g} to {high:g} sd"] = _rate(inside, "none-detected")
            row[f"{low:g} to {high:g} sd, count"] = float(len(inside))
        table[kind] = row
    return table
