"""What a list costs at 300, 1,000 and 10,000 cylinders: judged whole, as it was, and judged as far as shown.

    python -m tests.benchmarks.fleet --sizes 300 1000 10000

Every cylinder is a copy of one of a hundred that were registered, hooked up, weighed and read through the use cases,
with its own rows; the watch then sweeps them once. The budget is 150 ms and 100 kB (not compressed) of each page.
Prints a table and writes tests/benchmarks/out/fleet.csv.
"""

import argparse
import csv
import re
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any

import psutil
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.board.languages.environment import ENGLISH
from service.board.pages.overview import card_html
from service.board.quantities import Quantities
from service.board.views.cards import card
from service.cylinders.plausibility import serial_key
from service.operations import cylinders, holds, hookups, live, pairs, people, tokens
from service.operations.hookups import NewHookup
from service.operations.live import Snapshot
from service.operations.pairs import NewPair
from service.operations.people import NewPerson
from service.operations.support import attention, judgements
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.settings import Settings
from service.store import cylinders as stored
from service.store import tables
from service.store.database import Database
from service.store.places import insert as insert_place
from service.store.work import Work, batched
from service.wiring import wire
from tests.benchmarks.output import output
from tests.conftest import make_owner
from tests.support import databases
from tests.support.judge import ScriptedJudge

NAMES = ("R-410A", "R-22", "R-134a", "R-404A", "R-407C", "R-32", "R-448A", "R-454B")
PASSWORD = "a-long-test-password"
BUDGET_MS, BUDGET_KB = 150.0, 100.0
TEMPLATES, PLACES = 100, 12
TIMES = 9


def template(services: Services, actor: Actor, judge: ScriptedJudge, k: int, dice: Random) -> None:
    """One cylinder through the use cases: one in ten is overdue, one in fifty overfull, some are held or unknown."""
    serial, judge.designation = f"T-{k:04}", dice.choice(NAMES)
    full = 32.5 if k % 50 == 7 else 12.4 + dice.uniform(1.0, 12.0)
    stamp = "06 A123 14" if k % 10 == 3 else "06 A123 24"
    values: dict[str, Any] = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4}
    if k % 11 != 5:
        values |= {"gross_mass_kg": full, "requalification_stamp": stamp}
    cylinders.register(services, actor, serial, {**values, "place": "shop"})  # type: ignore[typeddict-item]
    if k % 4:
        hookup = hookups.attach(services, actor, NewHookup(serial, f"urn:dev:x:p{k}", f"urn:dev:x:t{k}"))
        reading = PressureReading(absolute_pa=dice.uniform(7e5, 1.6e6))
        pairs.record(services, actor, NewPair(dice.uniform(285.0, 305.0), reading, serial=serial))
        said = Snapshot(
            hookup.id, services.now(), "settled", 295.0, PressureReading(absolute_pa=9e5), None, None, {}
        )
        live.put(services, actor, [said], [])
    if k % 33 == 9:
        holds.place(services, actor, serial, "smells burnt")


def copies(work: Work, number: int) -> None:
    """Copy every cylinder with its rows until there are so many, spread over the places."""
    rows = {
        name: _rows(work, name) for name in ("cylinders", "epochs", "verdicts", "hookups", "live", "holds")
    }
    at = datetime.now(UTC)
    vans = [f"van-{k:02}" for k in range(PLACES)]
    spots = [insert_place(work, name=van, kind="vehicle", elevation_m=0.0, at=at).id for van in vans]
    first = {name: max(row["id"] for row in some) + 1 for name, some in rows.items() if some}
    made: dict[str, list[dict[str, Any]]] = {name: [] for name in rows}
    for n in range(number - len(rows["cylinders"])):
        old = rows["cylinders"][n % len(rows["cylinders"])]
        ids = {"cylinder_id": first["cylinders"] + n}
        new = {**old, "id": ids["cylinder_id"], "serial": f"C-{n:05}", "serial_key": serial_key(f"C-{n:05}")}
        new["place_id"] = spots[n % len(spots)]
        for name in ("epochs", "verdicts", "hookups", "holds"):
            for row in (one for one in rows[name] if one["cylinder_id"] == old["id"]):
                copied = {**row, "id": first[name] + len(made[name]), **ids}
                made[name].append(copied)
                if row["id"] == old["verdict_id"] and name == "verdicts":
                    new["verdict_id"] = copied["id"]
                if name == "hookups":
                    said = [one for one in rows["live"] if one["hookup_id"] == row["id"]]
                    made["live"] += [
                        {**one, "id": first["live"] + len(made["live"]), "hookup_id": copied["id"]}
                        for one in said
                    ]
        made["cylinders"].append(new)
    for name in ("cylinders", "epochs", "verdicts", "hookups", "live", "holds"):
        for some in batched(made[name], 200):
            work.insert_many(tables.metadata.tables[name], some)


def _rows(work: Work, name: str) -> list[dict[str, Any]]:
    statement = work.select(tables.metadata.tables[name])
    return [dict(row) for row in work.connection.execute(statement).mappings()]


@contextmanager
def fleet(number: int) -> Iterator[tuple[Flask, Services, Actor]]:
    """An application with so many cylinders, swept once."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(
            data=Path(folder), database_url="", secret_key="s" * 40, request_limit="1000000 per minute"
        )
        judge, database = ScriptedJudge(), Database(databases.fresh_sqlite(Path(folder)))
        services = wire(settings, database=database, judge=judge, now=lambda: datetime.now(UTC))
        actor, dice = make_owner(services), Random(1)
        people.create(services, actor, NewPerson("boss", "Boss", "supervisor", PASSWORD))
        for k in range(min(TEMPLATES, number)):
            template(services, actor, judge, k, dice)
        with database.writing(actor.organisation_id) as work:
            copies(work, number)
        attention.sweep(services)
        yield create_app(settings, services), services, actor
        database.dispose()


def judged_whole(app: Flask, services: Services, actor: Actor) -> Callable[[], bytes]:
    """The list as it was: every cylinder judged, written and drawn; without its frame."""

    def ask() -> bytes:
        with app.test_request_context(), services.database.reading(actor.organisation_id) as work:
            found = judgements.of_all(services, work, stored.everything(work))
            show = Quantities(inch_pound=True)
            return "".join(card_html(card(one, show, str), ENGLISH) for one in found).encode()

    return ask


def signed_in(app: Flask) -> FlaskClient:
    """A supervisor's browser."""
    client = app.test_client()
    found = re.search(r'name="csrf" value="([^"]+)"', client.get("/sign-in").text)
    assert found is not None
    client.post("/sign-in", data={"csrf": found[1], "login": "boss", "password": PASSWORD})
    return client


def timed(ask: Callable[[], bytes], times: int) -> tuple[float, float, float]:
    """Median and worst milliseconds of the processor, and kilobytes; the first time warms up."""
    sizes = [len(ask())]
    taken = []
    for _ in range(times):
        began = time.process_time()
        sizes.append(len(ask()))
        taken.append(1000.0 * (time.process_time() - began))
    return statistics.median(taken), max(taken), max(sizes) / 1000.0


def measure(number: int) -> list[dict[str, object]]:
    """Each page at one size."""
    with fleet(number) as (app, services, actor):
        browser, machine = signed_in(app), app.test_client()
        secret = tokens.create(services, actor, name="fleet", scope="reader").secret
        machine.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"

        def page(client: FlaskClient, path: str) -> Callable[[], bytes]:
            def ask() -> bytes:
                answer = client.get(path)
                assert answer.status_code == 200, (path, answer.status_code)
                return answer.get_data()

            return ask

        asked = {
            "list judged whole (as it was)": judged_whole(app, services, actor),
            **{name: page(browser, path) for name, path in PATHS.items()},
            "triage": page(machine, "/api/v1/triage"),
        }
        found = []
        for name, ask in asked.items():
            median, worst, size = timed(ask, 3 if name.startswith("list judged") else TIMES)
            found.append(
                {"cylinders": number, "page": name, "median_ms": round(median, 1), "worst_ms": round(worst, 1),
                 "kb": round(size, 1)}
            )  # fmt: skip
        return found


PATHS = {
    "list": "/rack",
    "last page of the list": "/rack?page=99999",
    "one place": "/rack?place=van-03",
    "one refrigerant": "/rack?refrigerant=R-32",
    "one state": "/rack?state=settled",
    "what needs somebody": "/rack?state=needs",
    "alarms": "/alarms",
}


def main() -> None:
    """Run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[300, 1000, 10_000])
    found = [row for number in parser.parse_args().sizes for row in measure(number)]
    for row in found:
        new = not str(row["page"]).startswith("list judged")
        over = new and (float(str(row["median_ms"])) > BUDGET_MS or float(str(row["kb"])) > BUDGET_KB)
        print(*(f"{value!s:>9}" if name != "page" else f"{value!s:32}" for name, value in row.items()),
              "OVER" if over else "")  # fmt: skip
    print(f"processor milliseconds of one request; load average {psutil.getloadavg()[0]:.1f}")
    with output("fleet.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, list(found[0]))
        writer.writeheader()
        writer.writerows(found)


if __name__ == "__main__":
    main()
