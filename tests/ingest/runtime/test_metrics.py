"""The worker's figures have the names that the alert rules use, and say what the status says."""

from prometheus_client import CollectorRegistry

from ingest.runtime.metrics import Figures

STATUS = {
    "at": 1000.0,
    "connected": True,
    "sessions": 3,
    "devices": 5,
    "disk_error": None,
    "outbox": {"waiting": 2, "set-aside": 1},
    "oldest_waiting_s": 940.0,
    "counts": {"packs": 10, "readings": 60, "refused:unit": 2, "posts:stored": 7, "dropped:late": 1},
}


def figures(status: dict[str, object]) -> dict[tuple[str, ...], float]:
    registry = CollectorRegistry()
    registry.register(Figures(lambda: status))
    return {
        (sample.name.removeprefix("heelmark_ingest_"), *sample.labels.values()): sample.value
        for family in registry.collect()
        for sample in family.samples
    }


def test_every_count_of_the_status_is_a_figure() -> None:
    got = figures(STATUS)
    expected = {
        ("packs_total",): 10,
        ("readings_total",): 60,
        ("pairs_total",): 0,
        ("disk_errors_total",): 0,
        ("packs_refused_total", "unit"): 2,
        ("readings_dropped_total", "late"): 1,
        ("posts_total", "stored"): 7,
        ("outbox", "waiting"): 2,
        ("outbox", "set-aside"): 1,
        ("outbox_oldest_seconds",): 60,
        ("broker_connected",): 1,
        ("disk_error",): 0,
        ("sessions",): 3,
    }
    assert {name: got[name] for name in expected} == expected


def test_an_empty_outbox_has_no_age_and_before_the_first_status_there_is_nothing() -> None:
    assert figures({**STATUS, "oldest_waiting_s": None})[("outbox_oldest_seconds",)] == 0
    assert figures({}) == {}
