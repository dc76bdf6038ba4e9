"""How much the database grows for each cylinder that stays hooked up for a year.

``python -m tests.benchmarks.growth --cylinders 4 --days 10 --pairs 4`` has a worker tell live values every five minutes
(finer ones are thinned to that after two days) and post so many pairs a day, each with a verdict by the real engine;
retention is done every night. It tells what each table gained a cylinder and day once that is steady, and a year of it.
Target: under 25 MB a cylinder-year. Writes ``out/growth.json``.

Points of the trace older than 30 days are thinned to one in fifteen minutes, which is reckoned with, not waited for.
Tables whose rows are forgotten after some time stop growing; they are told apart, with what they come to.
"""

import argparse
import json
import logging
import sys
import tempfile
from collections.abc import Mapping
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any, Final

import sqlalchemy as sa
import structlog
from tqdm import tqdm

from service.operations import retention
from service.wiring import LateJudge, verdict_engine
from tests.benchmarks.output import output
from tests.support.live_batches import following, with_state
from tests.support.shop import GOOD_CLAMP, GOOD_GAUGE, Shop, open_shop

REGION: Final = "north-america"
STEP: Final = timedelta(seconds=retention.COARSE_SPAN_S)
FORGOTTEN_DAYS: Final = {
    "idempotency": retention.KEYS.days, "webhook_attempts": retention.ATTEMPTS.days,
    "heartbeats": retention.HEARTBEATS.days,
}  # fmt: skip
"""Tables that stop growing, and after how many days."""
DAYS: Final = 365
FROM_DAY: Final = 3
"""Before it the first epoch, the live rows and the fine trace are still new."""
MOST_MB: Final = 25.0


class Year:
    """Some hooked-up cylinders in a shop, day after day."""

    def __init__(self, shop: Shop, cylinders: int, pairs_a_day: int) -> None:
        self.shop, self.pairs_a_day, self.dice = shop, pairs_a_day, Random(7)
        self.hookups: list[dict[str, Any]] = []
        for number in range(cylinders):
            shop.register(f"HM-{number}", claimed_designation="R-410A")
            body = {
                "cylinder": f"HM-{number}",
                "pressure_device": f"p-{number}",
                "temperature_device": f"p-{number}",
            }
            self.hookups.append(shop.must("POST", "hookups", body))
        self.said = [following(one, shop.clock(), seconds=1200.0)["hookups"][0] for one in self.hookups]

    def day(self) -> None:
        """One day: live values at each step, pairs spread over it, and the night's retention."""
        steps = int(timedelta(days=1) / STEP)
        settling = {step * steps // self.pairs_a_day for step in range(self.pairs_a_day)}
        for step in range(steps):
            self.shop.clock.forward(seconds=STEP.total_seconds())
            self._tell()
            if step in settling:
                self._settle()
        retention.maintain(self.shop.services)

    def _tell(self) -> None:
        at = self.shop.clock().isoformat()
        states = [with_state(one, "settled", at=at, temperature_c=self._temp_c()) for one in self.said]
        answer = self.shop.worker.put(
            "/api/v1/live", json={"place": "shop", "hookups": states, "devices": []}
        )
        assert answer.get_json()["refused"] == []

    def _temp_c(self) -> float:
        return round(self.dice.uniform(12.0, 34.0), 2)

    def _settle(self) -> None:
        for hookup in self.hookups:
            temp_c = self._temp_c()
            kpa = float(self.shop.services.curves.bubble_pressure_pa("R-410A", temp_c + 273.15)) / 1e3
            pair = {"hookup": hookup["id"], "temperature_c": temp_c, "absolute_pressure_kpa": kpa}
            span = {"settled_at": self.shop.clock().isoformat(), "reasons": [], "provisional": False}
            key = {"Idempotency-Key": f"{self.dice.getrandbits(160):040x}"}
            answer = self.shop.worker.post(
                "/api/v1/equilibrium-pairs", json={**pair, **span, **GOOD_CLAMP, **GOOD_GAUGE}, headers=key
            )
            assert answer.status_code == 201, answer.get_data(as_text=True)


def sizes(shop: Shop) -> dict[str, int]:
    """Bytes of each table with its indexes."""
    owner = (
        "SELECT coalesce(m.tbl_name, s.name), sum(s.payload) FROM dbstat s "
        "LEFT JOIN sqlite_master m ON m.name = s.name"
    )
    with shop.services.database.engine.connect() as connection:
        return {str(name): int(size) for name, size in connection.execute(sa.text(f"{owner} GROUP BY 1"))}


def growth(shop: Shop, cylinders: int, days: int, pairs_a_day: int) -> dict[str, Any]:
    """What each table gains a cylinder and day, and what that comes to."""
    year = Year(shop, cylinders, pairs_a_day)
    before: Mapping[str, int] = {}
    for number in tqdm(range(days), unit="day", disable=None):
        if number == FROM_DAY:
            before = sizes(shop)
        year.day()
    after, each = sizes(shop), cylinders * (days - FROM_DAY)
    gained = {name: (size - before.get(name, 0)) / each for name, size in after.items()}
    gained = {
        name: round(size) for name, size in sorted(gained.items(), key=lambda one: -one[1]) if size >= 1.0
    }
    grows = sum(size * _days(name) for name, size in gained.items() if name not in FORGOTTEN_DAYS)
    stays = sum(size * FORGOTTEN_DAYS[name] for name, size in gained.items() if name in FORGOTTEN_DAYS)
    return {
        "cylinders": cylinders, "days": days, "pairs_a_day": pairs_a_day, "bytes_a_cylinder_and_day": gained,
        "growth_mb_a_cylinder_year": round(grows / 1e6, 2), "stays_at_mb_a_cylinder": round(stays / 1e6, 2),
    }  # fmt: skip


def _days(table: str) -> float:
    """How many days' growth a year leaves of a table: the trace is thinned once more when it is old."""
    if table != "trace":
        return DAYS
    recent = retention.RECENT_TRACE.days
    return recent + (DAYS - recent) * retention.COARSE_SPAN_S / retention.OLD_SPAN_S


def main() -> int:
    """Measure and write down; exit code 1 above the target."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cylinders", type=int, default=4)
    parser.add_argument("--days", type=int, default=10)
    parser.add_argument("--pairs", type=int, default=4, help="a cylinder and day")
    asked = parser.parse_args()
    if asked.days <= FROM_DAY:
        parser.error(f"--days {asked.days}: expected more than {FROM_DAY}")
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    judge = LateJudge(REGION, verdict_engine(REGION))
    with tempfile.TemporaryDirectory() as folder, open_shop(Path(folder), judge) as shop:
        told = growth(shop, asked.cylinders, asked.days, asked.pairs)
    output("growth.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(told, indent=1))
    return 0 if told["growth_mb_a_cylinder_year"] < MOST_MB else 1


if __name__ == "__main__":
    sys.exit(main())
