"""How many times two voices of the program say different things about one cylinder, or an act made it forget.

``python -m tests.benchmarks.voices --cylinders 200 --seed 0`` plays a random history on each cylinder through the
interface with the real verdict engine, asks every voice after every act, and does the same with the demo's cylinders,
read at three temperatures. It tells every contradiction with the acts that led there.
"""

import argparse
import logging
import sys
import tempfile
from collections import Counter
from pathlib import Path

import structlog
from tqdm import tqdm

from demo.scenario import DemoCylinder, load_scenario
from demo.truth import contents_of
from service.wiring import LateJudge, verdict_engine
from tests.support.shop import Shop, open_shop
from tests.support.told import Told, random_history
from tests.support.voices import RULES, contradictions, hear

TEMPERATURES_C = (15.0, 24.0, 33.0)
REGION = "north-america"


def demo_cylinder(shop: Shop, cylinder: DemoCylinder) -> Told:
    """Register one of the demo, and read what is really in it."""
    told, truth = Told(), contents_of(cylinder)
    net = cylinder.truth.net_mass_kg if cylinder.weighed else None
    stamped = None if cylinder.requalified_months_ago is None else _stamp(cylinder.requalified_months_ago)
    shop.register(
        cylinder.serial, marks=cylinder.marks, water_capacity_kg=cylinder.water_capacity_kg, tare_kg=cylinder.tare_kg,
        requalification_stamp=stamped, flammable_marked=cylinder.flammable_marked,
        claimed_designation=cylinder.claimed_designation,
        gross_mass_kg=None if net is None or cylinder.tare_kg is None else cylinder.tare_kg + net, confirmed=True,
    )  # fmt: skip
    for temp_c in (None, *TEMPERATURES_C):
        if temp_c is not None:
            shop.settle(cylinder.serial, kpa=truth.pressure_pa(temp_c + 273.15) / 1e3, temp_c=temp_c)
        told.questions += 1
        told.wrong += [
            f"{one}\n    demo {cylinder.serial} at {temp_c} °C"
            for one in contradictions(hear(shop, cylinder.serial))
        ]
    return told


def _stamp(months_ago: int) -> str:
    """As stamped so many months before the shop's May of 2026."""
    months = 12 * 2026 + 4 - months_ago
    return f"{months % 12 + 1} A123 {months // 12 % 100:02}"


def main() -> int:
    parser = argparse.ArgumentParser(description="Count where two voices contradict each other.")
    parser.add_argument("--cylinders", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0, help="of the first cylinder; the next ones follow")
    parser.add_argument("--shown", type=int, default=20, help="how many contradictions are told")
    asked = parser.parse_args()
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    heard: list[Told] = []
    with tempfile.TemporaryDirectory() as folder:
        for name in ("random", "demo"):
            (Path(folder) / name).mkdir()
        judge = LateJudge(REGION, verdict_engine(REGION))
        with open_shop(Path(folder) / "random", judge) as shop:
            seeds = range(asked.seed, asked.seed + asked.cylinders)
            heard += [random_history(shop, seed) for seed in tqdm(seeds, unit="cylinder", disable=None)]
        with open_shop(Path(folder) / "demo", judge) as shop:
            heard += [demo_cylinder(shop, one) for one in load_scenario().cylinders]
    return _report(heard, asked.shown)


def _report(heard: list[Told], shown: int) -> int:
    wrong = [one for told in heard for one in told.wrong]
    asked = sum(told.questions for told in heard)
    print(
        f"{len(heard)} cylinders, {asked} moments, {len(RULES)} questions each: {len(wrong)} contradictions"
    )
    for what, number in Counter(one.split(":")[0].split("\n")[0] for one in wrong).most_common():
        print(f"{number:6} {what}")
    print(*wrong[:shown], sep="\n\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
