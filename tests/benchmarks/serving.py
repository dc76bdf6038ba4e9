"""
``python -m tests.benchmarks.serving``: verdicts over HTTP from one process, and the time the service takes to start.

Targets: at least 150 ``POST /verdicts`` a second by one process with a 99th percentile under 50 ms; start-up under 2 s.
Writes ``out/serving.json`` and ``out/serving.png``. Figures depend on the machine; the load of the other processes on
it is written down beside them.
"""

import argparse
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import requests
from tqdm import tqdm

from tests.benchmarks.output import output

QUESTION = {
    "pairs": [{"temperature_f": 68, "gauge_pressure_psi": 117.3, "temperature_uncertainty_k": 0.3}],
    "elevation_m": 0,
    "claimed_designation": "R-22",
}


def main() -> None:
    """Measure and write down."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--clients", type=int, default=4)
    parser.add_argument("--rate", type=float, default=150.0, help="requests a second of the paced run")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (url, token, started_s, process):
        flat_out = run(url, token, options.clients, options.seconds, None, process)
        paced = run(url, token, options.clients, options.seconds, options.rate, process)
    result: dict[str, Any] = {
        "start_up_s": started_s,
        "flat_out": flat_out,
        "paced": paced,
        "cpus": os.cpu_count(),
    }
    output("serving.json").write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    draw(flat_out, paced)
    for name in ("flat_out", "paced"):
        print(name, {key: value for key, value in result[name].items() if key != "latencies_ms"})
    print(f"start-up {started_s:.2f} s")


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, str, float, psutil.Process]]:
    """One gunicorn process over a fresh database; tells how long it took until ``/healthz`` answered."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    environment = {**os.environ, "HEELMARK_DATA": str(folder), "HEELMARK_HTTP_PORT": str(port)}
    environment["HEELMARK_REQUEST_LIMIT"] = "1000000 per minute"
    heelmark = (sys.executable, "-c", "from service.cli import main; main()")
    for command in (("migrate",), ("first-run", "--output", str(folder / "first-run.json"))):
        subprocess.run([*heelmark, *command], env=environment, check=True, stdout=subprocess.DEVNULL)
    token = json.loads((folder / "first-run.json").read_text(encoding="utf-8"))["tokens"]["technician"]
    gunicorn = (sys.executable, "-m", "gunicorn", "service.wsgi:app", "--bind", f"127.0.0.1:{port}")
    flags = ("--workers", "1", "--threads", "8", "--worker-class", "gthread", "--log-level", "warning")
    began = time.monotonic()
    process = subprocess.Popen([*gunicorn, *flags], env=environment, stderr=subprocess.DEVNULL)
    try:
        wait(f"http://127.0.0.1:{port}/healthz", process)
        yield f"http://127.0.0.1:{port}", token, time.monotonic() - began, psutil.Process(process.pid)
    finally:
        process.terminate()
        process.wait(20)


def wait(url: str, process: "subprocess.Popen[bytes]") -> None:
    """Until it answers."""
    while process.poll() is None:
        try:
            requests.get(url, timeout=1)
            return
        except requests.RequestException:
            time.sleep(0.02)
    raise RuntimeError("the service did not start")


def run(
    url: str, token: str, clients: int, seconds: float, rate: float | None, process: psutil.Process
) -> dict[str, Any]:
    """Ask from several threads, as fast as they can or at a rate; answers rate and latencies."""
    latencies: list[list[float]] = [[] for _ in range(clients)]
    ends = time.monotonic() + seconds
    began_cpu = cpu_seconds(process)

    def ask(mine: list[float]) -> None:
        session = requests.Session()
        session.headers["Authorization"] = f"Bearer {token}"
        turn = time.monotonic()
        while time.monotonic() < ends:
            began = time.perf_counter()
            answer = session.post(f"{url}/api/v1/verdicts", json=QUESTION, timeout=30)
            mine.append(time.perf_counter() - began)
            answer.raise_for_status()
            if rate is not None:
                turn += clients / rate
                time.sleep(max(0.0, turn - time.monotonic()))

    threads = [threading.Thread(target=ask, args=(mine,)) for mine in latencies]
    for thread in threads:
        thread.start()
    for _ in tqdm(range(int(seconds)), desc="flat out" if rate is None else f"paced at {rate:g}/s", unit="s"):
        time.sleep(1)
    for thread in threads:
        thread.join()
    told = np.concatenate([np.array(mine) for mine in latencies]) * 1000
    return {
        "per_second": len(told) / seconds,
        "p50_ms": float(np.percentile(told, 50)),
        "p99_ms": float(np.percentile(told, 99)),
        "service_cpu_ms_each": 1000 * (cpu_seconds(process) - began_cpu) / len(told),
        "load_average": os.getloadavg()[0],
        "latencies_ms": told.round(2).tolist(),
    }


def cpu_seconds(process: psutil.Process) -> float:
    """Spent by a process and its children [s]."""
    family = [process, *process.children(recursive=True)]
    return float(sum(one.cpu_times().user + one.cpu_times().system for one in family))


def draw(flat_out: dict[str, Any], paced: dict[str, Any]) -> None:
    """Latency distributions."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(figsize=(7, 4))
    for name, result in (("flat out", flat_out), ("paced", paced)):
        told = np.sort(result["latencies_ms"])
        axes.plot(told, np.linspace(0, 1, len(told)), label=f"{name}: {result['per_second']:.0f}/s")
    axes.axvline(50, color="0.6", linestyle="--", label="50 ms")
    axes.set(xlabel="time to answer [ms]", ylabel="share", xscale="log", title="POST /verdicts, one process")
    axes.legend()
    figure.savefig(output("serving.png"), dpi=120, bbox_inches="tight")


if __name__ == "__main__":
    main()
