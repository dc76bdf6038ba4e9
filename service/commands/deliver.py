"""``heelmark deliver``: send events to webhooks until told to stop."""

import random
import signal
import socket
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from secrets import token_hex

import click
import structlog

from service.logs import configure_logs
from service.operations import health
from service.operations.deliveries import CONCURRENT, Deliverer
from service.operations.support.context import Services
from service.settings import load_settings

IDLE_S = 0.25
BEAT_EVERY_S = 5.0

log = structlog.get_logger(__name__)


@click.command()
@click.option("--pulse", type=click.Path(dir_okay=False, path_type=Path), help="Touched in every round.")
@click.option("--metrics-port", type=int, help="Serve this process's metrics there.")
@click.option("--metrics-bind", default="127.0.0.1", show_default=True, help="Address of that port.")
def deliver(pulse: Path | None, metrics_port: int | None, metrics_bind: str) -> None:
    """Send events to webhooks; any number of these may run beside each other."""
    from service.wiring import wire

    configure_logs()
    services = wire(load_settings())
    if metrics_port is not None:
        from prometheus_client import start_http_server

        from service.measures import REGISTRY

        start_http_server(metrics_port, addr=metrics_bind, registry=REGISTRY)
    stopping = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stopping.set())
    run(services, stopping, pulse)


def run(services: Services, stopping: threading.Event, pulse: Path | None = None) -> None:
    """Deliver round after round; a round that fails is logged and tried again, more slowly each time."""
    holder = f"{socket.gethostname()[:40]}-{token_hex(6)}"
    deliverer = Deliverer(services, holder, random.random, stopping.is_set)
    failures, next_beat = 0, 0.0
    log.info("deliverer.started", holder=holder)
    with ThreadPoolExecutor(CONCURRENT, thread_name_prefix="deliver") as pool:
        while not stopping.is_set():
            try:
                served = deliverer.round(pool)
                if time.monotonic() >= next_beat:
                    health.beat(services, health.DELIVERER)
                    next_beat = time.monotonic() + BEAT_EVERY_S
                failures = 0
            except Exception:
                served, failures = 0, failures + 1
                log.exception("deliverer.round_failed", failures=failures)
            if pulse is not None:
                # Alive is also who cannot do anything: on a full disk another process could not either.
                with suppress(OSError):
                    pulse.touch()
            if served == 0:
                stopping.wait(min(IDLE_S * 2**failures, 30.0))
    log.info("deliverer.stopped", holder=holder)
