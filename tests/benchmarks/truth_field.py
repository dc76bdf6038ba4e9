"""The truth machine on real cylinders: field data that `heelmark export field-data` wrote, judged again and scored.

    python -m tests.benchmarks.truth_field FOLDER [FOLDER ...]

Each folder is one owner's data package. The same figures as of simulated cylinders, with the interval that the count of
cylinders leaves. Writes `out/truth_field.json`.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from pathlib import Path

import numpy as np

from service.operations.truths import STRONGEST
from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair
from service.verdict.truth.intervals import proportion
from tests.benchmarks.output import output
from tests.benchmarks.truth_machine import by_engine
from tests.benchmarks.truth_scores import Case, credible_set, finding, summary
from tests.support import field_package
from tests.support.field_package import Rows

JUDGES = ("verdict", "nearest curve")


def load(folder: Path) -> dict[str, Rows]:
    """A package's tables."""
    return field_package.read({path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()})


def pair_of(row: dict) -> Pair:
    """A row of pairs as the engine takes it."""
    same = (
        "temp_k", "pressure_pa", "temp_noise_k", "pressure_noise_pa", "temp_bias_k", "pressure_bias_pa",
        "atmosphere_bias_pa",
    )  # fmt: skip
    names = {name: None if row[name] is None else f"{name} {row[name]}" for name in ("thermometer", "gauge")}
    return Pair(
        **{name: row[name] for name in same},
        temperature_device=names["thermometer"],
        pressure_device=names["gauge"],
    )


def cases(tables: dict[str, Rows], engine: VerdictEngine) -> list[Case]:
    """Every established contents, by each judge, with its label where it has one."""
    pairs, labels = defaultdict(list), {row["contents"]: row["label"] for row in tables["contents"]}
    for row in tables["pairs"]:
        pairs[row["contents"]].append(pair_of(row))
    truths: dict[int, dict] = {}
    for row in sorted(tables["truths"], key=lambda one: STRONGEST.index(one["kind"]), reverse=True):
        if row["designation"] is not None:
            truths[row["contents"]] = row
    found = []
    for contents, truth in sorted(truths.items()):
        label, read = labels[contents], pairs[contents]
        known = label if label in engine.space.designations else None
        judged, seconds = by_engine(engine, read, CylinderFacts(claimed_designation=known))
        nearest = {_nearest(engine, read): 1.0}
        told = {"verdict": (judged.identity, judged.states), "nearest curve": (nearest, {"none": 1.0})}
        found += [
            Case(
                judge=judge,
                instrument=f"{read[0].temp_bias_k:.2g} K, {read[0].pressure_bias_pa / 1e3:.2g} kPa",
                labelled=label is not None,
                designation=truth["designation"],
                state=truth["state"] or "not told",
                amount=0.0,
                identity=identity,
                states=states,
                finding=finding(states, engine.settings),
                label_right=label == truth["designation"],
                above_limit=None,
                shift=0.0,
                seconds=seconds,
            )
            for judge, (identity, states) in told.items()
        ]
    return found


def _nearest(engine: VerdictEngine, pairs: list[Pair]) -> str:
    """What a person with a perfect chart of the clean curves would say."""
    from service.verdict import chebyshev

    clean = engine.space.clean @ chebyshev.values(np.array([one.temp_k for one in pairs]))
    away = np.abs(np.log([one.pressure_pa for one in pairs]) - clean).mean(axis=1)
    return engine.space.designations[int(np.nanargmin(away))]


def report(found: list[Case]) -> list[dict[str, object]]:
    """A row a judge: the truth machine's figures, and what the count leaves open."""
    rows = []
    for judge in JUDGES:
        chosen = [one for one in found if one.judge == judge]
        if not chosen:
            continue
        first = sum(
            max(one.identity, key=lambda name: one.identity[name]) == one.designation for one in chosen
        )
        inside = sum(one.designation in credible_set(one.identity) for one in chosen)
        right, covered = proportion(first, len(chosen)), proportion(inside, len(chosen))
        rows.append(
            {
                "judge": judge,
                **summary(chosen),
                "right_first_95": (right.low, right.high),
                "coverage_95": (covered.low, covered.high),
            }
        )
    return rows


def main() -> None:
    """Read, judge, count, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    folders = parser.parse_args().folders
    for folder in folders:
        if not (folder / "datapackage.json").is_file():
            parser.error(f"{folder}: expected a folder that `heelmark export field-data` wrote")
    engine = VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())
    found = [one for folder in folders for one in cases(load(folder), engine)]
    rows = report(found)
    output("truth_field.json").write_text(json.dumps(rows, indent=1))
    for row in rows:
        low, high = row["right_first_95"]
        print(
            f"{row['judge']}: {row['cylinders']} cylinders, right first {row['right_first']:.3f} "
            f"(95 % {low:.2f} to {high:.2f}), coverage {row['coverage']:.3f}, log score {row['log_score']:.3f}"
        )
    if not rows:
        print("no cylinder whose contents were established was read")


if __name__ == "__main__":
    main()
