"""The worker's figures for Prometheus, out of the status that it tells anyway."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from prometheus_client import CollectorRegistry, start_http_server
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

Status = Mapping[str, Any]
GROUPED = {
    "refused": ("heelmark_ingest_packs_refused", "Packs refused as a whole, by reason", "reason"),
    "refused-records": (
        "heelmark_ingest_records_refused",
        "Records refused of packs taken, by reason",
        "reason",
    ),
    "dropped": ("heelmark_ingest_readings_dropped", "Readings left out of a window, by reason", "reason"),
    "posts": ("heelmark_ingest_posts", "Answers to posted pairs", "outcome"),
}
"""Counts named ``group:member``."""


class Figures(Collector):
    """Turns the newest status into metrics.

    Parameters
    ----------
    status : callable
        Returns the newest status; empty before the first.
    """

    def __init__(self, status: Callable[[], Status]) -> None:
        self.status = status

    def collect(self) -> Iterable[Metric]:
        """Return every family; none before the worker has a status."""
        status = self.status()
        if not status:
            return
        yield from _counters(status["counts"])
        outbox = GaugeMetricFamily("heelmark_ingest_outbox", "Pairs by state", labels=["state"])
        for state in ("waiting", "posted", "set-aside", *status["outbox"]):
            if state not in [sample.labels["state"] for sample in outbox.samples]:
                outbox.add_metric([state], status["outbox"].get(state, 0))
        yield outbox
        oldest_s = status["at"] - status["oldest_waiting_s"] if status["oldest_waiting_s"] else 0.0
        for name, text, value in (
            ("outbox_oldest_seconds", "Age of the oldest pair not yet posted [s]", oldest_s),
            ("broker_connected", "1 while connected to the broker", float(status["connected"])),
            ("sessions", "Hookups being followed", status["sessions"]),
            ("devices", "Devices heard", status["devices"]),
            ("disk_error", "1 while the inbox cannot be written", float(status["disk_error"] is not None)),
            ("status_timestamp_seconds", "When the worker's loop last said this", status["at"]),
        ):
            yield GaugeMetricFamily(f"heelmark_ingest_{name}", text, value=value)


def _counters(counts: Mapping[str, int]) -> Iterable[Metric]:
    families = {
        group: CounterMetricFamily(name, text, labels=[label])
        for group, (name, text, label) in GROUPED.items()
    }
    plain = {"packs": 0, "readings": 0, "pairs": 0, "disk-errors": 0, "live-dropped": 0, "live-refused": 0}
    plain |= {"retained": 0, "unknown-names": 0, "translated": 0}
    for name, count in counts.items():
        group, _, member = name.partition(":")
        if member and group in families:
            families[group].add_metric([member], count)
        else:
            plain[name] = count
    yield from families.values()
    for name, count in plain.items():
        family = f"heelmark_ingest_{name.replace('-', '_')}"
        yield CounterMetricFamily(family, f"{name} since the start", value=count)


def serve(port: int, bind: str, status: Callable[[], Status]) -> None:
    """Serve the figures from a thread of their own."""
    registry = CollectorRegistry()
    registry.register(Figures(status))
    start_http_server(port, addr=bind, registry=registry)
