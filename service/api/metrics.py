"""``/metrics`` for Prometheus: requests by route and status, verdict time, open streams."""

import time

from flask import Flask, Response, current_app, g, request
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
)

REGISTRY = CollectorRegistry()
REQUESTS = Counter("heelmark_requests_total", "Requests", ["route", "method", "status"], registry=REGISTRY)
SECONDS = Histogram("heelmark_request_seconds", "Time to answer [s]", ["route"], registry=REGISTRY)
STREAMS = Gauge("heelmark_event_streams", "Open event streams of this process", registry=REGISTRY)


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
        SECONDS.labels(route).observe(time.perf_counter() - g.began)
    return response


def _metrics() -> Response:
    tail = current_app.extensions.get("heelmark-tail")
    STREAMS.set(tail.listeners if tail else 0)
    return Response(generate_latest(REGISTRY), content_type=CONTENT_TYPE_LATEST)
