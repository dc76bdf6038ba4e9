"""``/metrics`` for Prometheus: what this server measured, and the state of the installation at the scrape."""

import os
import time
from collections.abc import Iterable

from flask import Flask, Response, current_app, g, request
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from service.api.http.auth import is_insider
from service.api.http.current import services
from service.api.http.problems import problem
from service.measures import REGISTRY, REQUEST_SECONDS, REQUESTS, STREAMS
from service.operations import health
from service.operations.health import Gauges
from service.operations.support.context import Services


def register(app: Flask) -> None:
    """Measure every request and serve the figures."""
    app.before_request(_begin)
    app.after_request(_end)
    app.add_url_rule("/metrics", "metrics", _metrics)


def _begin() -> None:
    g.began = time.perf_counter()


def _end(response: Response) -> Response:
    route = request.url_rule.rule if request.url_rule else "none"
    REQUESTS.labels(route, request.method, response.status_code).inc()
    if "began" in g and not response.is_streamed:
        REQUEST_SECONDS.labels(route).observe(time.perf_counter() - g.began)
    tail = current_app.extensions.get("heelmark-tail")
    STREAMS.set(tail.listeners if tail else 0)
    return response


def _metrics() -> Response:
    if not is_insider():
        return problem(403, "Figures are for monitoring inside; from elsewhere they take a bearer token.")
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        shared = CollectorRegistry()
        MultiProcessCollector(shared)  # type: ignore[no-untyped-call]
        measured = generate_latest(shared)
    else:
        measured = generate_latest(REGISTRY)
    state = CollectorRegistry()
    state.register(State(services()))
    return Response(measured + generate_latest(state), content_type=CONTENT_TYPE_LATEST)


class State(Collector):
    """Reads the state of the whole installation from its database, whichever process is asked."""

    def __init__(self, services: Services) -> None:
        self._services = services

    def collect(self) -> Iterable[Metric]:
        """Every family; a database that does not answer leaves only the failed check."""
        checks = GaugeMetricFamily("heelmark_healthy", "1 where a health check passes", labels=["check"])
        for check in health.checks(self._services):
            checks.add_metric([check.name], float(check.healthy))
        yield checks
        gauges = health.gauges(self._services)
        if gauges is not None:
            yield from _families(gauges)


def _families(gauges: Gauges) -> Iterable[Metric]:
    states = GaugeMetricFamily(
        "heelmark_hookups", "Active hookups by settling state", labels=["settling_state"]
    )
    for state, count in gauges.settling_states.items():
        states.add_metric([state], count)
    alarms = GaugeMetricFamily("heelmark_alarms_standing", "Alarms not cleared", labels=["code", "severity"])
    for (code, severity), count in gauges.alarms.items():
        alarms.add_metric([code, severity], count)
    silence = GaugeMetricFamily(
        "heelmark_worker_silence_seconds", "Since a place's worker spoke [s]", labels=["place"]
    )
    for place, seconds in gauges.silences_s.items():
        silence.add_metric([place], seconds)
    yield from (states, alarms, silence)
    waiting = GaugeMetricFamily("heelmark_webhook_events_waiting", "Events not delivered", labels=["webhook"])
    oldest = GaugeMetricFamily(
        "heelmark_webhook_oldest_waiting_seconds", "Age of the oldest of them [s]", labels=["webhook"]
    )
    failures = GaugeMetricFamily("heelmark_webhook_failures", "Failures in a row", labels=["webhook"])
    for entry in gauges.outbox:
        name = [str(entry.webhook_id)]
        waiting.add_metric(name, entry.waiting)
        oldest.add_metric(name, entry.oldest_s)
        failures.add_metric(name, entry.failures)
    yield from (waiting, oldest, failures)
    yield GaugeMetricFamily("heelmark_webhooks_disabled", "Subscriptions disabled", value=gauges.disabled)
    yield CounterMetricFamily("heelmark_pairs", "Equilibrium pairs ever stored", value=gauges.pairs)
    yield CounterMetricFamily("heelmark_verdicts", "Verdicts ever stored", value=gauges.verdicts)
