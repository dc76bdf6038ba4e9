"""Plots of the truth machine."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt

from tests.benchmarks.output import output

Reliability = dict[tuple[str, bool, str], list[tuple[float, float, int]]]
JUDGES = {"verdict": "C0", "exact": "C1", "nearest curve": "C7"}


def draw(report: list[dict[str, object]], curves: Reliability, name: str) -> None:
    """Reliability diagrams, right-first bars and false-clean curves."""
    _reliability(curves, output(f"{name}_reliability.png"))
    _right_first(report, output(f"{name}_right_first.png"))
    _false_clean(report, output(f"{name}_false_clean.png"))


def _reliability(curves: Reliability, path: Path) -> None:
    instruments = list(dict.fromkeys(key[0] for key in curves))
    figure, axes = plt.subplots(1, len(instruments), figsize=(4 * len(instruments), 4.2), sharey=True)
    for axis, instrument in zip(axes, instruments, strict=True):
        axis.plot([0, 1], [0, 1], color="0.7", lw=1)
        for judge in ("verdict", "exact"):
            for labelled, style in ((False, "o-"), (True, "s--")):
                rows = curves.get((instrument, labelled, judge))
                if rows:
                    label = f"{judge}, {'labelled' if labelled else 'unlabelled'}"
                    axis.plot(
                        [r[0] for r in rows],
                        [r[1] for r in rows],
                        style,
                        color=JUDGES[judge],
                        ms=3,
                        label=label,
                    )
        axis.set_title(instrument, fontsize=8)
        axis.set_xlabel("stated probability")
    axes[0].set_ylabel("share right")
    axes[0].legend(fontsize=7)
    figure.tight_layout()
    figure.savefig(path, dpi=130)
    plt.close(figure)


def _right_first(report: list[dict[str, object]], path: Path) -> None:
    rows = [r for r in report if r["judge"] in JUDGES]
    keys = list(dict.fromkeys((r["instrument"], r["labelled"]) for r in rows))
    figure, axis = plt.subplots(figsize=(9, 5))
    for offset, (judge, colour) in zip((-0.27, 0.0, 0.27), JUDGES.items(), strict=True):
        values = {(r["instrument"], r["labelled"]): r["right_first"] for r in rows if r["judge"] == judge}
        axis.barh(
            [i + offset for i in range(len(keys))],
            [values.get(k, 0) for k in keys],
            0.25,
            color=colour,
            label=judge,
        )
    axis.set_yticks(range(len(keys)), [f"{k[0]}{', labelled' if k[1] else ''}" for k in keys], fontsize=7)
    axis.set_xlabel("right designation first")
    axis.invert_yaxis()
    axis.legend(fontsize=8)
    figure.tight_layout()
    figure.savefig(path, dpi=130)
    plt.close(figure)


def _false_clean(report: list[dict[str, object]], path: Path) -> None:
    figure, axes = plt.subplots(1, 3, figsize=(13, 4), sharey=True)
    for axis, kind in zip(axes, ("air", "shifted", "mixed"), strict=True):
        for row in report:
            if row["judge"] not in ("verdict", "exact") or row["labelled"]:
                continue
            sizes = row["false_clean_by_size"][kind]
            names = [name for name in sizes if not name.endswith("count")]
            style = "-" if row["judge"] == "verdict" else ":"
            axis.plot(
                range(len(names)),
                [sizes[n] for n in names],
                style,
                marker=".",
                label=f"{row['judge']}: {row['instrument']}",
            )
        axis.set_xticks(range(len(names)), names, rotation=30, fontsize=7)
        axis.set_title(f"{kind}: called none-detected", fontsize=9)
    axes[0].legend(fontsize=6)
    figure.tight_layout()
    figure.savefig(path, dpi=130)
    plt.close(figure)
