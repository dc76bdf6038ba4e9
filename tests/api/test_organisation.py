"""``/organisation``: the time zone is an administrator's to change."""

from collections.abc import Callable

from flask.testing import FlaskClient


def test_the_time_zone_is_read_by_all_and_changed_by_an_administrator(
    client_as: Callable[..., FlaskClient],
) -> None:
    reader, administrator = client_as("reader"), client_as("administrator")
    assert reader.get("/api/v1/organisation").get_json()["time_zone"] == "UTC"
    assert reader.patch("/api/v1/organisation", json={"time_zone": "America/Denver"}).status_code == 403
    changed = administrator.patch("/api/v1/organisation", json={"time_zone": "America/Denver"})
    assert changed.get_json()["time_zone"] == "America/Denver"
    refused = administrator.patch("/api/v1/organisation", json={"time_zone": "Denver"})
    assert refused.status_code == 422
    assert "America/Denver" in refused.get_data(as_text=True) and "'Denver'" in refused.get_data(as_text=True)
