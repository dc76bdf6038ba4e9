"""What was judged in the shop is judged the same from the package that left it."""

from pathlib import Path

import pytest

from service.operations import analyses, cylinders, field_data, pairs, verdicts
from service.operations.analyses import NewAnalysis
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.settings import Settings
from service.store.artefacts import load_curves
from service.store.database import Database
from service.wiring import verdict_engine, wire
from tests.benchmarks import truth_field
from tests.conftest import make_owner
from tests.support.clock import Clock

CONTENTS = (("R-22", "R-22"), ("R-410A", None), ("R-134a", "R-12"))
"""What is in it, and what its label says."""


def test_the_truth_machine_reads_what_the_shop_exported(
    settings: Settings, database: Database, clock: Clock, tmp_path: Path
) -> None:
    services = wire(settings, database=database, now=clock)
    actor = make_owner(services)
    curves, stood = load_curves(), {}
    for number, (name, label) in enumerate(CONTENTS):
        serial = f"HM-{number}"
        cylinders.register(services, actor, serial, {"place": "shop", "claimed_designation": label})
        read = PressureReading(absolute_pa=float(curves.bubble_pressure_pa(name, 296.0)) * 1.003)
        pairs.record(services, actor, NewPair(serial=serial, temp_k=296.0, pressure=read))
        first = verdicts.newest(services, actor, serial).found.identity.candidates[0]
        stood[name] = (first.designation, first.probability)
    for number, (name, _) in enumerate(CONTENTS):
        analyses.record(
            services, actor, NewAnalysis(f"HM-{number}", "laboratory", name, other_refrigerants_percent=0.1)
        )
    folder = tmp_path / "package"
    folder.mkdir()
    for file, text in field_data.package(services, actor).items():
        (folder / file).write_text(text, encoding="utf-8", newline="")
    found = [
        one
        for one in truth_field.cases(truth_field.load(folder), verdict_engine(settings.region))
        if one.judge == "verdict"
    ]
    assert {one.designation for one in found} == set(stood)
    for one in found:
        first = max(one.identity, key=lambda name: one.identity[name])
        # The machine shares probability among the named alone; what is in no catalogue is left out.
        assert (first, one.identity[first]) == (
            stood[one.designation][0],
            pytest.approx(stood[one.designation][1], rel=0.02),
        )
    rows = truth_field.report(found)
    assert rows[0]["cylinders"] == 3
    assert rows[0]["right_first_95"][1] - rows[0]["right_first_95"][0] > 0.5  # type: ignore[index]
