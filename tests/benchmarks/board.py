"""The board's budgets, against a real service process with 500 cylinders.

    python -m tests.benchmarks.board --cylinders 500 --streams 200

Rack and triage under 150 ms of server time, pages under 150 kB compressed, 200 idle streams without starving
requests, a reading on an open board within 2 s. Prints a table and writes JSON and a plot under tests/benchmarks/out/.
"""

import argparse
import json
import re
import socket
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

import matplotlib.pyplot as plt
import psutil
import pytest
import requests
from playwright.sync_api import expect, sync_playwright
from tqdm import tqdm

from service.operations import bootstrap, cylinders, hookups, pairs
from service.operations.hookups import NewHookup
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.settings import load_settings
from service.store.database import Database
from service.wiring import wire
from tests.benchmarks.output import output
from tests.browser.conftest import launch, sign_in
from tests.browser.server import PASSWORD, Server, free_port
from tests.support.judge import ScriptedJudge

NAMES = ("R-410A", "R-22", "R-134a", "R-404A", "R-407C", "R-32", "R-448A", "R-454B")
BUDGETS = {"rack_ms": 150.0, "weight_kb": 150.0, "reach_s": 2.0}


def stock(server: Server, number: int) -> None:
    """Put cylinders with verdicts, hookups and live values on the rack."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in server.environment.items():
            patch.setenv(name, value)
        settings = load_settings()
    judge, random = ScriptedJudge(), Random(1)
    database = Database(settings.database_url)
    services = wire(settings, database=database, judge=judge)
    organisation = bootstrap.organisation_id(services, "home")
    assert organisation is not None
    actor = bootstrap.system_actor(organisation)
    for k in tqdm(range(number), desc="cylinders"):
        serial, judge.designation = f"BENCH-{k:04}", random.choice(NAMES)
        marks = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.4, "place": "shop"}
        marks["gross_mass_kg"] = 12.4 + random.uniform(1.0, 15.0)
        cylinders.register(services, actor, serial, {**marks, "requalification_stamp": "06 A123 23"})
        hookups.attach(services, actor, NewHookup(serial, f"urn:dev:x:p{k}", f"urn:dev:x:t{k}"))
        reading = PressureReading(absolute_pa=random.uniform(7e5, 1.6e6))
        pairs.record(services, actor, NewPair(random.uniform(285.0, 305.0), reading, serial=serial))
    database.dispose()


def heard(server: Server, number: int) -> None:
    """Have the worker speak of every hookup once."""
    for k in range(1, number + 1):
        server.live(k, "settled", 20.0 + k % 10, 900.0 + k)


def visitor(server: Server) -> requests.Session:
    """A signed-in session."""
    session = requests.Session()
    page = session.get(f"{server.url}/sign-in", timeout=10).text
    token = re.search(r'name="csrf" value="([^"]+)"', page)
    assert token is not None
    sent = {"csrf": token[1], "login": "sam", "password": PASSWORD}
    session.post(f"{server.url}/sign-in", data=sent, timeout=10).raise_for_status()
    return session


def timed(ask: Callable[[], requests.Response], times: int) -> list[float]:
    """Milliseconds of so many requests."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        ask().raise_for_status()
        taken.append(1000.0 * (time.perf_counter() - began))
    return taken


def cpu_ms(server: Server, ask: Callable[[], requests.Response], times: int) -> float:
    """Milliseconds of processor time of the service for one request: what a busy machine does not distort."""
    assert server.process is not None
    workers = psutil.Process(server.process.pid).children()

    def spent() -> float:
        return sum(sum(worker.cpu_times()[:2]) for worker in workers)

    before = spent()
    timed(ask, times)
    return 1000.0 * (spent() - before) / times


def both(server: Server, session: requests.Session, name: str, path: str) -> dict[str, object]:
    """Milliseconds of thirty requests of a page, and of processor time for one, under a name."""

    def ask() -> requests.Response:
        return session.get(f"{server.url}{path}", timeout=60)

    return {f"{name}_ms": timed(ask, 30), f"{name}_cpu_ms": cpu_ms(server, ask, 30)}


def fleet(server: Server) -> requests.Session:
    """A session of a fleet system."""
    session = requests.Session()
    session.headers["Authorization"] = f"Bearer {server.secrets['tokens']['supervisor']}"
    return session


def weights(session: requests.Session, server: Server) -> dict[str, float]:
    """Kilobytes over the wire of each page with its style, script and mark."""

    def wire_kb(path: str) -> float:
        headers = {"Accept-Encoding": "gzip"}
        answer = session.get(f"{server.url}{path}", headers=headers, stream=True, timeout=30)
        return len(answer.raw.read()) / 1000.0

    page = session.get(f"{server.url}/rack", timeout=30).text
    assets = re.findall(r'(?:href|src)="(/static/[^"]+)"', page)
    shared = sum(wire_kb(path) for path in assets)
    paths = {"rack": "/rack", "cylinder": "/cylinders/BENCH-0001", "alarms": "/alarms", "devices": "/devices"}
    return {name: wire_kb(path) + shared for name, path in paths.items()}


def streams(session: requests.Session, server: Server, number: int) -> list[socket.socket]:
    """Open streams and leave them idle."""
    cookie = "; ".join(f"{name}={value}" for name, value in session.cookies.items())
    opened = []
    for _ in tqdm(range(number), desc="streams"):
        one = socket.create_connection(("127.0.0.1", server.port), timeout=30)
        one.sendall(f"GET /stream?since=999999 HTTP/1.1\r\nHost: x\r\nCookie: {cookie}\r\n\r\n".encode())
        assert b"200" in one.recv(200)
        opened.append(one)
    return opened


def reach(server: Server, times: int) -> list[float]:
    """Seconds from the worker's call to the value in an open browser's rack."""
    taken = []
    with sync_playwright() as playwright:
        browser = launch(playwright)
        page = browser.new_page()
        sign_in(page, server)
        page.goto(f"{server.url}/rack?q=BENCH-000")
        card = page.locator("[data-card]", has_text="BENCH-0005")
        for k in tqdm(range(times), desc="readings"):
            began = time.perf_counter()
            server.live(6, "settled", 30.0 + k, 943.0)
            expect(card).to_contain_text(f"{(30.0 + k) * 1.8 + 32.0:.1f}", timeout=15_000)
            taken.append(time.perf_counter() - began)
        browser.close()
    return taken


def measure(number: int, idle: int) -> dict[str, object]:
    """Everything, in one run against one process, of whose streams one person may have an eighth."""
    with tempfile.TemporaryDirectory() as folder:
        limits = {"HEELMARK_STREAM_CAP": str(8 * idle + 128), "HEELMARK_REQUEST_LIMIT": "100000 per minute"}
        server = Server(Path(folder), free_port(), threads=idle + 32, settings=limits)
        server.set_up()
        stock(server, number)
        server.start()
        try:
            heard(server, number)
            session = visitor(server)
            cold = timed(lambda: session.get(f"{server.url}/rack", timeout=60), 1)[0]
            health = timed(lambda: session.get(f"{server.url}/healthz", timeout=60), 30)
            warm = timed(lambda: session.get(f"{server.url}/rack", timeout=60), 30)
            rack_cpu = cpu_ms(server, lambda: session.get(f"{server.url}/rack", timeout=60), 30)
            others = both(server, session, "cylinder", "/cylinders/BENCH-0001")
            others |= both(server, fleet(server), "triage", "/api/v1/triage")
            page_kb = weights(session, server)
            opened = streams(session, server, idle)
            beside = timed(lambda: session.get(f"{server.url}/rack", timeout=60), 30)
            health_beside = timed(lambda: session.get(f"{server.url}/healthz", timeout=60), 30)
            reached = reach(server, 10)
            for one in opened:
                one.close()
        finally:
            server.stop()
    return {
        "load_average": psutil.getloadavg()[0],
        "cylinders": number,
        "idle_streams": idle,
        "rack_cold_ms": cold,
        "rack_ms": warm,
        "rack_cpu_ms": rack_cpu,
        **others,
        "healthz_ms": health,
        "rack_beside_streams_ms": beside,
        "healthz_beside_streams_ms": health_beside,
        "page_kb": page_kb,
        "reading_reaches_board_s": reached,
    }


def told(found: dict[str, object]) -> None:
    """Print the table."""
    for name, value in found.items():
        if isinstance(value, list):
            ordered = sorted(value)
            print(f"{name:28s} median {statistics.median(ordered):8.2f}   worst {ordered[-1]:8.2f}")
        else:
            print(f"{name:28s} {value}")
    print("budgets", BUDGETS)


def drawn(found: dict[str, object], path: Path) -> None:
    """Plot the times."""
    names = ("healthz_ms", "healthz_beside_streams_ms", "rack_ms", "rack_beside_streams_ms")
    figure, axes = plt.subplots(figsize=(8, 4))
    axes.boxplot([found[name] for name in names], tick_labels=[name.removesuffix("_ms") for name in names])
    axes.axhline(BUDGETS["rack_ms"], linestyle="--", color="0.4")
    axes.set_ylabel("ms")
    figure.tight_layout()
    figure.savefig(path)
    plt.close(figure)


def main() -> None:
    """Run and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cylinders", type=int, default=500)
    parser.add_argument("--streams", type=int, default=200)
    given = parser.parse_args()
    found = measure(given.cylinders, given.streams)
    output("board.json").write_text(json.dumps(found, indent=1))
    drawn(found, output("board.png"))
    told(found)


if __name__ == "__main__":
    main()
