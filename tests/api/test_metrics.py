"""``/metrics`` has a figure for every stage, in the form that Prometheus reads."""

from collections.abc import Callable

from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from service.api.http import examples


def figures(client: FlaskClient) -> dict[str, list[tuple[dict[str, str], float]]]:
    answer = client.get("/metrics")
    assert answer.status_code == 200
    found: dict[str, list[tuple[dict[str, str], float]]] = {}
    for family in text_string_to_metric_families(answer.get_data(as_text=True)):
        for sample in family.samples:
            found.setdefault(sample.name, []).append((sample.labels, sample.value))
    return found


def test_each_stage_has_a_figure(client_as: Callable[..., FlaskClient]) -> None:
    technician = client_as("technician")
    technician.post("/api/v1/cylinders", json=examples.CYLINDER)
    hookup = technician.post("/api/v1/hookups", json=examples.HOOKUP).get_json()["id"]
    live = {"place": "shop", "devices": [], "hookups": [{"hookup": hookup, **examples.LIVE_HOOKUP}]}
    client_as("worker").put("/api/v1/live", json=live)
    technician.post("/api/v1/equilibrium-pairs", json=examples.PAIR)
    client_as("supervisor").post("/api/v1/webhooks", json={"url": "https://fleet.example/"})
    technician.post("/api/v1/places", json=examples.PLACE)
    client_as("supervisor").post("/api/v1/places", json={"name": "van-9"})
    got = figures(technician)
    assert ({"settling_state": "settling"}, 1.0) in got["heelmark_hookups"]
    assert got["heelmark_pairs_total"] == [({}, 1.0)]
    assert got["heelmark_verdicts_total"] == [({}, 1.0)]
    assert sum(value for _, value in got["heelmark_verdict_seconds_count"]) >= 1
    assert any(labels["kind"] == "settled" for labels, _ in got["heelmark_pairs_recorded_total"])
    assert any(labels["route"] == "/api/v1/cylinders" for labels, _ in got["heelmark_requests_total"])
    assert got["heelmark_worker_silence_seconds"][0][0] == {"place": "shop"}
    assert {labels["check"] for labels, _ in got["heelmark_healthy"]} == {
        "database",
        "workers",
        "broker",
        "watch",
        "retention",
        "deliverer",
        "outbox",
        "disk",
    }
    assert "heelmark_event_streams" in got
    assert got["heelmark_webhook_events_waiting"][0][1] >= 1


def test_paths_with_serials_do_not_make_a_series_each(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("reader")
    for number in range(5):
        client.get(f"/api/v1/cylinders/HM-{number}")
        client.get(f"/nonsense/{number}")
    routes = {labels["route"] for labels, _ in figures(client)["heelmark_requests_total"]}
    assert not [route for route in routes if "HM-" in route or "nonsense" in route]


def test_without_a_database_the_failed_check_is_left(
    client_as: Callable[..., FlaskClient], services: object
) -> None:
    client = client_as("reader")
    with services.database.unowned() as connection:
        connection.exec_driver_sql("DELETE FROM alembic_version")
    got = figures(client)
    assert got["heelmark_healthy"] == [({"check": "database"}, 0.0), ({"check": "disk"}, 1.0)]
