"""``python -m tests.benchmarks.measured_uncertainty``: uncertainties from measured pressures, and their report.

Reads the measured points of ``tests/outside/data`` and ``stated_uncertainty.csv``; writes ``uncertainty.csv`` and
``measured_report.md`` beside it. Afterwards: ``heelmark tabulate --catalogue-only``.
"""

import csv
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any

from service.refrigerants.equation_of_state import is_shipped, temp_limits_k
from service.refrigerants.uncertainty import Uncertainties, pair_class, stand_in
from service.store.artefacts import load_catalogue
from service.store.tabulation import DATA
from tests.benchmarks import measured_statistics as statistics
from tests.benchmarks.measured_report import Borne, Unseen, report
from tests.support.measured import Residual, by_subject, points, residuals, without_lame_papers

TARGETS = {"fluid": 0.87, "HFO": 0.93}
TARGET = 0.85
"""Share of points inside two sigma that is aimed at, a little above what is promised."""
ROOM_K = 298.15
FIELDS = ("kind", "subject", "relative_uncertainty", "mark", "papers", "points", "reason", "source")
Row = dict[str, Any]
Sizes = Mapping[str, Mapping[str, Sequence[float]]]


def class_of(subject: str) -> str:
    """`fluid`, or the class of a pair."""
    if "+" not in subject:
        return "fluid"
    first, second = subject.split("+")
    return pair_class(first, second, stand_in(first, second, shipped=is_shipped(first, second)))


def stated_rows() -> list[Row]:
    """What was stated before anything was measured."""
    with (DATA / "stated_uncertainty.csv").open(encoding="utf-8", newline="") as stream:
        return [{**row, "papers": "", "points": ""} for row in csv.DictReader(stream)]


def measured_row(subject: str, found: Mapping[str, Sequence[float]], value: float, stated: float) -> Row:
    """One row of the table that rests on measurement."""
    papers, count = len(found), sum(map(len, found.values()))
    kind = "pair" if "+" in subject else "fluid"
    text = f"measured, {papers} paper{'s' * (papers > 1)}, {count} points (stated before: {stated:.2%})"
    return {
        "kind": kind,
        "subject": subject,
        "relative_uncertainty": f"{value:.4g}",
        "mark": "computed",
        "papers": papers,
        "points": count,
        "reason": text if kind == "pair" else f"pure fluid, {text}",
        "source": "; ".join(f"doi:{doi}" for doi in sorted(found)),
    }


def fluids(found: Mapping[str, Mapping[str, list[Residual]]], stated: Uncertainties) -> list[Row]:
    """Rows of the pure fluids; one without a paper of its own keeps what was stated.

    What a wider comparison than this one said (mark `read`) is the least.
    """
    read = {
        row["subject"]: float(row["relative_uncertainty"]) for row in stated_rows() if row["mark"] == "read"
    }
    rows = []
    for subject, papers in found.items():
        if "+" not in subject:
            before = stated.fluid(subject)[0]
            of = statistics.sizes(papers, 0.0)
            value = statistics.fluid_sigma(of, before, TARGETS["fluid"])
            value = statistics.rounded(value, max(statistics.LEAST_PURE, read.get(subject, 0.0)))
            rows.append(measured_row(subject, of, value, before))
    return rows


def _both_liquid(subject: str) -> bool:
    """Whether both components can be liquid in a room: with a gas dissolved, a pair is no example of its class."""
    return all(temp_limits_k(name)[1] > ROOM_K for name in subject.split("+"))


def pairs(sizes: Sizes, stated: Uncertainties) -> tuple[list[Row], dict[str, float], dict[str, Unseen]]:
    """Rows of the measured pairs, the classes' values, and what each pair's would be with less measured."""
    of_class: dict[str, list[str]] = {}
    read = {
        row["subject"]: float(row["relative_uncertainty"]) for row in stated_rows() if row["mark"] == "read"
    }
    for subject in sizes:
        of_class.setdefault(class_of(subject), []).append(subject)
    rows, classes, unseen = [], {}, {}
    for name, (before, _) in stated.classes.items():
        members, target = of_class.get(name, []), TARGETS.get(name, TARGET)
        alike = [one for one in members if _both_liquid(one)]
        value = statistics.class_sigma((sizes[one] for one in alike), before, target)
        classes[name] = statistics.rounded(value, statistics.LEAST_PAIR)
        for subject in members:
            others = (sizes[one] for one in alike if one != subject)
            without = statistics.class_sigma(others, before, target)
            unseen[subject] = Unseen.of(sizes[subject], without, target)
            # A guess is no example of another guess: a guessed pair goes by its own measurement alone.
            own = statistics.pair_sigma(sizes[subject], None if name == "guessed" else without, target)
            own = statistics.rounded(own, max(statistics.LEAST_PAIR, read.get(subject, 0.0)))
            rows.append(measured_row(subject, sizes[subject], own, before))
    return rows, classes, unseen


def combine(
    before: list[Row], fluid_rows: list[Row], pair_rows: list[Row], classes: Mapping[str, float]
) -> list[Row]:
    """The table: what was stated, unless it was measured."""
    measured = {(row["kind"], row["subject"]) for row in (*fluid_rows, *pair_rows)}
    kept = [row for row in before if (row["kind"], row["subject"]) not in measured]
    for row in kept:
        if row["kind"] == "class":
            row["relative_uncertainty"] = f"{classes[row['subject']]:.4g}"
    order = ("fluid", "blend", "class", "pair", "designation", "whole")
    return sorted(
        [*kept, *fluid_rows, *pair_rows], key=lambda row: (order.index(row["kind"]), row["subject"])
    )


def catalogue_pairs() -> list[str]:
    """Every pair of components of every blend of the catalogue."""
    names = {
        "+".join(sorted(pair))
        for item in load_catalogue().values()
        for pair in combinations(item.mass_fractions, 2)
    }
    return sorted(names)


def main() -> None:
    """Compute, write the table and the report."""
    before = stated_rows()
    stated = Uncertainties.from_csv((DATA / "stated_uncertainty.csv").read_text(encoding="utf-8"))
    found = by_subject(without_lame_papers(residuals(points())))
    fluid_rows = fluids(found, stated)
    pure = {row["subject"]: float(row["relative_uncertainty"]) for row in fluid_rows}
    sizes: dict[str, Mapping[str, Sequence[float]]] = {}
    for subject, papers in found.items():
        if "+" in subject:
            ends = [pure.get(name, stated.fluid(name)[0]) for name in subject.split("+")]
            of = statistics.sizes(papers, max(ends) / 2**0.5)
            if of:
                sizes[subject] = of
    pair_rows, classes, unseen = pairs(sizes, stated)
    rows = combine(before, fluid_rows, pair_rows, classes)
    with (DATA / "uncertainty.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows({name: row[name] for name in FIELDS} for row in rows)
    now = Uncertainties.from_csv((DATA / "uncertainty.csv").read_text(encoding="utf-8"))
    borne = Borne(found, stated, now, unseen, class_of, catalogue_pairs())
    (DATA / "measured_report.md").write_text(report(borne), encoding="utf-8")


if __name__ == "__main__":
    main()
