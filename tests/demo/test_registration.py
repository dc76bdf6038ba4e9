"""What the demo tells the service of: what is stamped and labelled, and never the truth."""

from datetime import UTC, datetime, timedelta

import pytest

from demo.registration import Api, Refused, register, stamp_of
from demo.scenario import load_scenario
from tests.support.clock import Clock

SCENARIO = load_scenario()
BEGAN_AT = datetime(2026, 1, 15, tzinfo=UTC)


class ClientApi(Api):
    """The demo's client against the application itself; remembers what was sent."""

    def __init__(self, client):
        super().__init__("", "")
        object.__setattr__(self, "client", client)
        object.__setattr__(self, "sent", [])

    def _sent(self, method, path, headers=None, **more):
        query = {"query_string": more.get("params"), "json": more.get("json"), "headers": headers}
        return self.client.open(f"/api/v1{path}", method=method, **query)

    def _answer(self, method, path, **more):
        if "json" in more:
            self.sent.append((method, path, more["json"]))
        answer = self._sent(method, path, **more)
        if answer.status_code == 404 and method == "GET":
            return None
        if answer.status_code >= 400:
            raise Refused(answer.get_data(as_text=True))
        return answer.get_json()


@pytest.fixture
def api(client_as):
    return ClientApi(client_as("supervisor"))


@pytest.fixture
def clock():
    """The day after the scenario began."""
    return Clock(BEGAN_AT + timedelta(days=1))


def bodies(api, path):
    return [body for method, sent, body in api.sent if method == "POST" and sent == path]


def test_everything_is_registered_and_the_truth_is_not_told(api):
    assert register(api, SCENARIO, BEGAN_AT.timestamp()) == len(SCENARIO.cylinders)
    told = repr(api.sent)
    assert "truth" not in told and "story" not in told and "zero_kpa" not in told
    wrong_label = next(body for body in bodies(api, "/cylinders") if body["serial"] == "S-107")
    assert wrong_label["claimed_designation"] == "R-410A"
    unlabelled = next(body for body in bodies(api, "/cylinders") if body["serial"] == "S-104")
    assert "claimed_designation" not in unlabelled


def test_a_place_that_the_first_run_made_gets_the_elevation_of_the_scenario(api):
    assert api.get("/places")["items"][0]["elevation_m"] == 0.0
    register(api, SCENARIO, BEGAN_AT.timestamp())
    places = {place["name"]: place["elevation_m"] for place in api.get("/places")["items"]}
    assert places == {place.name: place.elevation_m for place in SCENARIO.places.values()}


def test_a_conflict_is_no_silent_success(api):
    register(api, SCENARIO, BEGAN_AT.timestamp())
    with pytest.raises(Refused, match="place-exists"):
        api.post("/places", {"name": "shop", "kind": "shop", "elevation_m": 12.0})


def test_a_hookup_begins_when_the_devices_were_put_on(api):
    register(api, SCENARIO, BEGAN_AT.timestamp())
    hookup = next(body for body in bodies(api, "/hookups") if body["cylinder"] == "S-101")
    assert datetime.fromisoformat(hookup["from"]) == BEGAN_AT


def test_a_second_start_changes_nothing(api):
    register(api, SCENARIO, BEGAN_AT.timestamp())
    api.sent.clear()
    assert register(api, SCENARIO, BEGAN_AT.timestamp()) == 0
    assert api.sent == []


@pytest.mark.parametrize(("months", "stamp"), [(0, "1-Z999-2026"), (1, "12-Z999-2025"), (14, "11-Z999-2024")])
def test_stamps_count_back_from_the_day_of_registration(months, stamp):
    from dataclasses import replace

    assert stamp_of(replace(SCENARIO.cylinders[0], requalified_months_ago=months), BEGAN_AT) == stamp
