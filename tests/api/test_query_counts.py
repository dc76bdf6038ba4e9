"""Lists send the same statements however long they are."""

import pytest
from flask.testing import FlaskClient

from service.operations.support.context import Services
from tests.support.queries import recorded

LISTS = {
    "/api/v1/cylinders": 3,
    "/api/v1/hookups?active=true": 4,
    "/api/v1/devices": 3,
    "/api/v1/alarms?standing=false": 3,
    "/api/v1/places": 3,
    "/api/v1/cylinders/HM-0/pairs": 4,
    "/api/v1/cylinders/HM-0/verdicts": 4,
    "/api/v1/event-log": 3,
    "/api/v1/triage": 13,
}
"""Greatest number of statements of a request, the token's look-up and its last use among them."""

OVERFULL = {
    "marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 37.7,
    "claimed_designation": "R-22",
}  # fmt: skip
"""Each with an alarm of its own."""


def fill(technician: FlaskClient, worker: FlaskClient, services: Services, first: int, last: int) -> None:
    for number in range(first, last):
        technician.post("/api/v1/cylinders", json={"serial": f"HM-{number}", "place": "shop", **OVERFULL})
        body = {
            "cylinder": f"HM-{number}",
            "pressure_device": f"g-{number}",
            "temperature_device": f"c-{number}",
        }
        technician.post("/api/v1/hookups", json=body)
        pair = {"cylinder": "HM-0", "temperature_c": 20 + number / 10, "absolute_pressure_kpa": 900}
        technician.post("/api/v1/equilibrium-pairs", json=pair)
        technician.post("/api/v1/places", json={"name": f"van-{number}"})
    at = services.now().isoformat()
    devices = [{"device": f"g-{number}", "last_seen": at} for number in range(last)]
    assert worker.put("/api/v1/live", json={"devices": devices}).status_code == 200


@pytest.mark.parametrize("path", LISTS)
def test_statements_do_not_grow_with_the_list(
    technician: FlaskClient, worker: FlaskClient, services: Services, path: str
) -> None:
    counts = []
    for first, last in ((0, 2), (2, 12)):
        fill(technician, worker, services, first, last)
        with recorded(services.database.engine) as statements:
            items = technician.get(path).get_json()["items"]
        counts.append((len(items), len(statements)))
    assert counts[0][1] == counts[1][1] <= LISTS[path], counts
    assert counts[0][0] < counts[1][0]
