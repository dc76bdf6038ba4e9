"""
What is measured, by name; ``api.metrics`` serves it, the deliverer serves its own part.

With ``PROMETHEUS_MULTIPROC_DIR`` set before this is imported, the processes of one server share their figures.
"""

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

REGISTRY = CollectorRegistry()
_QUICK = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5)

REQUESTS = Counter("heelmark_requests", "Requests answered", ["route", "method", "status"], registry=REGISTRY)
REQUEST_SECONDS = Histogram(
    "heelmark_request_seconds", "Time to answer [s]", ["route"], buckets=_QUICK, registry=REGISTRY
)
STREAMS = Gauge(
    "heelmark_event_streams", "Open event streams", multiprocess_mode="livesum", registry=REGISTRY
)
VERDICT_SECONDS = Histogram(
    "heelmark_verdict_seconds", "Time of one verdict's inference [s]", buckets=_QUICK, registry=REGISTRY
)
PAIRS = Counter(
    "heelmark_pairs_recorded", "Equilibrium pairs taken, settled or provisional", ["kind"], registry=REGISTRY
)
ATTEMPTS = Counter(
    "heelmark_webhook_attempts",
    "Delivery attempts: accepted, refused by an answer, unreachable",
    ["outcome"],
    registry=REGISTRY,
)
ATTEMPT_SECONDS = Histogram(
    "heelmark_webhook_attempt_seconds",
    "Time of one delivery attempt [s]",
    buckets=(0.01, 0.05, 0.1, 0.5, 1, 5, 10, 20),
    registry=REGISTRY,
)
DELIVERY_LAG_SECONDS = Histogram(
    "heelmark_webhook_lag_seconds",
    "From an event to its acceptance by the receiver [s]",
    buckets=(0.5, 1, 2, 5, 15, 60, 300, 1800, 7200, 86400),
    registry=REGISTRY,
)
