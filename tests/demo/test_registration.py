"""What the demo tells the service of: what is stamped and labelled, and never the truth."""

from datetime import UTC, datetime

import pytest

from demo.registration import register, stamp_of
from demo.scenario import load_scenario

SCENARIO = load_scenario()
BEGAN_AT = datetime(2026, 1, 15, tzinfo=UTC)


class Api:
    """Remembers what was posted; nothing exists unless told so."""

    def __init__(self, hooked_up=()):
        self.posted, self.hooked_up = [], hooked_up

    def get(self, path, **query):
        return {"items": [{"cylinder": serial} for serial in self.hooked_up]}

    def post(self, path, body):
        self.posted.append((path, body))
        return True


def bodies(api, path):
    return [body for posted, body in api.posted if posted == path]


def test_everything_is_registered_and_the_truth_is_not_told():
    api = Api()
    assert register(api, SCENARIO, BEGAN_AT.timestamp()) == len(SCENARIO.cylinders)
    assert len(bodies(api, "/places")) == 3
    told = repr(api.posted)
    assert "truth" not in told and "story" not in told and "zero_kpa" not in told
    wrong_label = next(body for body in bodies(api, "/cylinders") if body["serial"] == "S-107")
    assert wrong_label["claimed_designation"] == "R-410A"
    unlabelled = next(body for body in bodies(api, "/cylinders") if body["serial"] == "S-104")
    assert "claimed_designation" not in unlabelled


def test_a_hookup_begins_when_the_devices_were_put_on():
    api = Api()
    register(api, SCENARIO, BEGAN_AT.timestamp())
    hookup = next(body for body in bodies(api, "/hookups") if body["cylinder"] == "S-101")
    assert datetime.fromisoformat(hookup["from"]) == BEGAN_AT


def test_what_is_hooked_up_already_stays_as_it_is():
    api = Api(hooked_up=[cylinder.serial for cylinder in SCENARIO.cylinders])
    register(api, SCENARIO, BEGAN_AT.timestamp())
    assert bodies(api, "/hookups") == []


@pytest.mark.parametrize(("months", "stamp"), [(0, "1-Z999-2026"), (1, "12-Z999-2025"), (14, "11-Z999-2024")])
def test_stamps_count_back_from_the_day_of_registration(months, stamp):
    from dataclasses import replace

    assert stamp_of(replace(SCENARIO.cylinders[0], requalified_months_ago=months), BEGAN_AT) == stamp
