"""A large grid of questions to the rules of the United States, on curves made up for it.

The curves are not a refrigerant's: they spread pressures and densities over all limits and do not change when the
tables are built again. ``python -m tests.cylinders.us_grid`` writes the answers that ``test_us_book.py`` compares
with; they were first written before the rules became a rule book.
"""

import csv
import hashlib
import math
from collections.abc import Iterator
from datetime import date
from itertools import product
from pathlib import Path

from service.cylinders.carriage import TradeLoad, materials_of_trade
from service.cylinders.filling import filling_limit
from service.cylinders.markings import read_marks
from service.cylinders.properties import Hazard, Knowledge
from service.cylinders.rating import AirLoad, rating
from service.cylinders.release import Load, release
from service.cylinders.requalification import Condition, Dates, breaches, requalification
from service.cylinders.requalification_stamp import Stamp
from service.store.rulebook import load_filling_table

ANSWERS = Path(__file__).parent / "data" / "us_answers.csv"
NAMES = (
    "R-11", "R-12", "R-13", "R-22", "R-23", "R-32", "R-40", "R-115", "R-125", "R-134a", "R-142b", "R-152a", "R-170",
    "R-290", "R-600a", "R-1270", "R-717", "R-744", "R-764", "R-404A", "R-407C", "R-410A", "R-454B", "R-500", "R-502",
    "R-503", "R-507A", "R-508B", "R-1234yf", "R-9999",
)  # fmt: skip
MARKS = (
    "", "rusty", "DOT-4B150", "DOT-4B240", "DOT-4BA225", "DOT-4BA240", "DOT-4BA300", "DOT-4BA350", "DOT-4BA400",
    "DOT-4BA500", "DOT-4BW400", "4B240ET", "DOT-4E240", "DOT-3A480", "DOT-3AA1800", "DOT-3AA2265", "DOT-3AL1800",
    "DOT-3E1800", "DOT-3", "DOT-39 NRC 260/325", "DOT-4BA400 NON-REFILLABLE", "TC-4BWM28", "DOT-110A500W", "PH 10 BAR",
    "PH 22 BAR", "PH 48 BAR", "PH 250 BAR", "PW 30 BAR", "PH 48 BAR NON-REFILLABLE",
)  # fmt: skip
CLASSES = (None, "A1", "A2L", "A2", "A3", "B1", "B2L")


def _number(name: str, salt: str) -> float:
    """0 to 1, the same for a name always."""
    digest = hashlib.sha256(f"{salt} {name}".encode()).digest()
    return int.from_bytes(digest[:6], "big") / 2**48


def _figure(value: float | None) -> str:
    """Six digits: the last ones are the mathematics library's."""
    return "-" if value is None else f"{value:.6g}"


class Curves:
    """Straight ln p over 1/T, densities straight in T; some end below 55 °C."""

    def temp_range_k(self, designation: str) -> tuple[float, float]:
        return 233.15, 300.0 if designation in {
            "R-13",
            "R-23",
            "R-170",
            "R-744",
            "R-503",
            "R-508B",
        } else 333.15

    def bubble_pressure_pa(self, designation: str, temp_k: float) -> float:
        at_300 = 2e5 * 12.0 ** _number(designation, "pressure")
        return at_300 * math.exp(
            (2000.0 + 800.0 * _number(designation, "slope")) * (1.0 / 300.0 - 1.0 / temp_k)
        )

    def liquid_density_kg_m3(self, designation: str, temp_k: float) -> float:
        at_300 = 450.0 + 950.0 * _number(designation, "density")
        return at_300 * (1.0 - (0.003 + 0.004 * _number(designation, "expansion")) * (temp_k - 300.0))

    def vapour_density_kg_m3(self, designation: str, temp_k: float) -> float:
        return 0.08 * self.bubble_pressure_pa(designation, temp_k) / (8.314 * temp_k)


def _hazard(designation: str) -> Hazard | None:
    if designation == "R-9999":
        return None
    return Hazard(CLASSES[int(7 * _number(designation, "class"))], "2.2", False)


def answers() -> Iterator[tuple[str, str]]:
    """Every question with its answer, as text."""
    known = Knowledge(Curves(), load_filling_table(), _hazard)
    for name, mark in product(NAMES, MARKS):
        marks = read_marks(mark)
        for flammable, air in product((False, True), (AirLoad(), AirLoad(60e3, 9.0, 21.6))):
            found = rating(marks, name, known, air=air, flammable_marked=flammable)
            accepted = found.accepted_by.code if found.accepted_by else "-"
            broken = " ".join(breach.rule.code for breach in found.breaches)
            asked = f"rating {name} {mark!r} flammable={flammable} air={air.partial_pressure_25c_pa:g}"
            yield asked, f"{accepted}; {broken}; {_figure(found.gauge_55c_pa)} {_figure(found.gauge_21c_pa)}"
        limits = filling_limit(name, 21.6, known, marks=marks)
        said = "; ".join(f"{one.rule.code} {_figure(one.mass_kg)}" for one in limits.limits)
        yield f"filling {name} {mark!r}", f"{limits.governing.rule.code}: {said}"
    yield from _dates()
    yield from _air_and_freight()


def _dates() -> Iterator[tuple[str, str]]:
    stamps = (None, Stamp(2010, 2), Stamp(2016, 6), Stamp(2021, 6), Stamp(2024, 12))
    days = (
        date(2021, 6, 30),
        date(2024, 2, 29),
        date(2026, 4, 30),
        date(2026, 6, 30),
        date(2026, 7, 1),
        date(2030, 1, 1),
    )
    said = (None, "coated and dry")
    for mark, stamp, condition, words, on, first in product(
        MARKS, stamps, Condition, said, days, (False, True)
    ):
        dates = Dates(stamp, first, condition, words)
        state = requalification(read_marks(mark), dates, on=on)
        broken = " ".join(breach.rule.code for breach in breaches(read_marks(mark), dates, on=on))
        asked = f"dates {mark!r} {stamp and (stamp.year, stamp.month)} {condition} {words} {first} {on}"
        yield asked, f"{state.state} {state.due_on} {state.rule.code}; {broken}"


def _air_and_freight() -> Iterator[tuple[str, str]]:
    for mass, limit, height, volume in product(
        (0.5, 2.0, 8.0, 40.0), (None, 320.0, 50e3), (0.0, 1200.0, 2500.0), (8.0, 60.0)
    ):
        found = release([Load("A", "R-1", mass, 0.086, limit, False)], volume, elevation_m=height)
        broken = " ".join(breach.rule.code for breach in found.breaches)
        yield (
            f"release {mass} {limit} {height} {volume}",
            f"{_figure(found.fills)} {_figure(found.rcl_share)}; {broken}",
        )
    for gross, division in product((10.0, 100.0, 100.1, 210.0), ("2.1", "2.2", "2.3", None)):
        trade = materials_of_trade([TradeLoad("A", gross, (division,)), TradeLoad("B", 90.0, ("2.2",))])
        broken = " ".join(breach.rule.code for breach in trade.breaches)
        yield f"trade {gross} {division}", f"{broken}; {trade.left_kg:g}"


def main() -> None:
    """Write the answers: one line for every question would be megabytes, so a digest for every hundred."""
    with ANSWERS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["first", "questions", "sha256"])
        writer.writerows(digests())


def digests(size: int = 50) -> Iterator[tuple[str, int, str]]:
    """First question, number of questions and digest of the answers of every block."""
    block: list[tuple[str, str]] = []
    for answer in answers():
        block.append(answer)
        if len(block) == size:
            yield _digest(block)
            block = []
    if block:
        yield _digest(block)


def _digest(block: list[tuple[str, str]]) -> tuple[str, int, str]:
    text = "\n".join(f"{asked}\t{said}" for asked, said in block)
    return block[0][0], len(block), hashlib.sha256(text.encode()).hexdigest()[:16]


if __name__ == "__main__":
    main()
