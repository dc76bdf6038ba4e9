"""Draws one clamp that settles: what it reads, what the worker takes the wall for, and from when it says settled.

    python -m tests.benchmarks.settling_picture

Writes `ingest/settling.svg`, the picture of `ingest/README.md`. The cylinder is simulated (`demo/physics`).
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import ingest
from demo.physics import Surroundings
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.support.feeding import pack_of, rig

PICTURE = Path(ingest.__file__).parent / "settling.svg"
DEVICE = "urn:dev:ops:32473-one"
SEED, PERIOD_S, LASTS_S, ROOM_K, START_S = 4, 10.0, 900.0, 294.0, 1.7e9
FONT = 'font-family="sans-serif" font-size="13"'
WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 720, 330, 48, 40, 34


class Moment(NamedTuple):
    """What is so, and what is said, at one reading; temperatures in [K]."""

    after_s: float
    liquid_k: float
    clamp_k: float
    estimate_k: float | None
    half_width_k: float
    settled: bool


def follow() -> list[Moment]:
    """Follow a clamp that was put on warm until the time is over."""
    pipeline, made = Pipeline(SettlingSettings()), rig(SEED, room_k=ROOM_K)
    body = {
        "id": 1,
        "cylinder": "A",
        "place": "shop",
        "pressure_device": DEVICE,
        "temperature_device": DEVICE,
    }
    pipeline.attach([Hookup.from_json({**body, "from": None, "valve": "vapour"})])
    moments = []
    for number in range(1, int(LASTS_S / PERIOD_S) + 1):
        made.step(PERIOD_S, Surroundings(ROOM_K))
        after_s = number * PERIOD_S
        pack = pack_of(made, DEVICE, START_S + after_s)
        pipeline.take("shop", DEVICE, pack.payload, pack.stamp_s)
        settling = pipeline.sessions[1].settling
        told = settling.provisional()
        moments.append(
            Moment(
                after_s,
                made.cylinder.surface_k,
                made.clamp.true_k,
                told.temp_k if told else None,
                1.96 * told.uncertainty_k if told else 0.0,
                settling.settled,
            )
        )
    return moments


class Axes:
    """Minutes and degrees as points of the picture."""

    def __init__(self, moments: list[Moment]) -> None:
        self.low_k = min(one.liquid_k for one in moments) - 1.0
        self.high_k = max(one.clamp_k for one in moments) + 0.5

    def x(self, after_s: float) -> float:
        return LEFT + after_s / LASTS_S * (WIDTH - LEFT - 12)

    def y(self, temp_k: float) -> float:
        inside = min(max(temp_k, self.low_k), self.high_k)
        return HEIGHT - BOTTOM - (inside - self.low_k) / (self.high_k - self.low_k) * (HEIGHT - BOTTOM - TOP)

    def path(self, points: list[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(after_s):.1f},{self.y(temp_k):.1f}" for after_s, temp_k in points)


def text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}">{words}</text>'


def scales(axes: Axes) -> list[str]:
    """Ticks of both axes, minutes and degrees Celsius."""
    parts = [text(LEFT, HEIGHT - 6, "minutes since the clamp was put on"), text(8, 16, "°C")]
    for minute in range(0, int(LASTS_S / 60) + 1, 3):
        parts.append(text(axes.x(minute * 60.0), HEIGHT - BOTTOM + 16, str(minute), "middle"))
    for celsius in range(int(axes.low_k - 273.15) + 1, int(axes.high_k - 273.15) + 1, 2):
        y = axes.y(celsius + 273.15)
        parts.append(
            f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - 12}" y2="{y:.1f}" stroke="#bbb" stroke-width="0.5"/>'
        )
        parts.append(text(LEFT - 6, y + 4, str(celsius), "end"))
    return parts


def draw(moments: list[Moment]) -> str:
    """Return the picture as SVG; text and lines are told apart without color too."""
    axes = Axes(moments)
    told = [one for one in moments if one.estimate_k is not None]
    band = [(one.after_s, (one.estimate_k or 0.0) + one.half_width_k) for one in told]
    band += [(one.after_s, (one.estimate_k or 0.0) - one.half_width_k) for one in reversed(told)]
    first = next(one for one in moments if one.settled)
    x = axes.x(first.after_s)
    clamp = axes.path([(one.after_s, one.clamp_k) for one in moments])
    liquid = axes.path([(one.after_s, one.liquid_k) for one in moments])
    estimate = axes.path([(one.after_s, one.estimate_k or 0.0) for one in told])
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" {FONT}>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        *scales(axes),
        f'<polygon points="{axes.path(band)}" fill="#9bd" fill-opacity="0.5"/>',
        f'<polyline points="{liquid}" fill="none" stroke="#000" stroke-width="1.2" stroke-dasharray="5 4"/>',
        f'<polyline points="{clamp}" fill="none" stroke="#b50" stroke-width="1.6"/>',
        f'<polyline points="{estimate}" fill="none" stroke="#058" stroke-width="2"/>',
        f'<line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{HEIGHT - BOTTOM}" stroke="#060" stroke-width="1.5"/>',
        text(x + 6, TOP + 12, f"settled after {first.after_s / 60:.1f} min"),
        text(axes.x(62), axes.y(moments[3].clamp_k) - 2, "clamp reads (orange)"),
        text(x + 6, axes.y(told[-1].estimate_k or 0.0) - 34, "estimate with its 95 % band (blue)"),
        text(x + 6, axes.y(moments[-1].liquid_k) + 26, "liquid surface, in truth (dashed)"),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


if __name__ == "__main__":
    PICTURE.write_text(draw(follow()), encoding="utf-8")
    print(f"{PICTURE.name} written")
