"""Every cause that needs somebody is shown by the demo: listed in it, and reached through the public interface."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial

import pytest
from flask import Flask
from flask.testing import FlaskClient

from demo import troubles
from demo.check import check
from demo.publisher import stations_of
from demo.scenario import load_scenario
from demo.station import air_pressure_pa
from demo.troubles import Shown, load_troubled, register_troubled
from service.app import create_app
from service.cylinders.boiling import Moment, Recent, boiling_off
from service.cylinders.judgement.causes import Kind
from service.cylinders.properties import boiling_temp_k
from service.operations.support.context import Services
from service.settings import Settings
from service.store.artefacts import load_curves
from service.store.database import Database
from service.wiring import wire
from tests.demo.test_registration import ClientApi
from tests.support.clock import Clock

SCENARIO = load_scenario()
BEGAN_AT = datetime(2026, 1, 15, tzinfo=UTC)


@pytest.fixture
def clock() -> Clock:
    """The day after the scenario began."""
    return Clock(BEGAN_AT + timedelta(days=1))


@pytest.fixture
def services(settings: Settings, database: Database, clock: Clock) -> Services:
    """Services that judge by themselves: some causes rest on what readings show."""
    return wire(settings, database=database, now=clock)


@pytest.fixture
def app(settings: Settings, services: Services) -> Flask:
    """The application over them."""
    return create_app(settings, services)


@pytest.fixture
def api(client_as: Callable[..., FlaskClient]) -> ClientApi:
    """The demo's client."""
    return ClientApi(client_as("supervisor"))


def test_the_demo_has_a_cylinder_for_every_cause() -> None:
    assert set(troubles.expected(SCENARIO)) == set(Kind)


def test_cylinders_without_devices_show_their_causes(api: ClientApi) -> None:
    ours = {cause for one in load_troubled() for cause in one.causes}
    assert register_troubled(api, BEGAN_AT.timestamp()) == len(load_troubled())
    seen = {one.cause: one for one in troubles.shown(api, SCENARIO) if one.cause in ours}
    for one in load_troubled():
        assert all(one.serial in seen[cause].seen for cause in one.causes), one.serial
    assert register_troubled(api, BEGAN_AT.timestamp()) == 0


@pytest.mark.parametrize(
    ("cause", "age_min", "code"),
    [("hot", 4.9, 0), ("hot", 5.1, 1), ("stale", 19.9, 0), ("stale", 20.1, 1), ("boiling-off", 15.1, 1)],
)
def test_the_check_fails_where_a_cause_is_not_seen_in_its_time(
    api: ClientApi, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    cause: str, age_min: float, code: int,
) -> None:  # fmt: skip
    monkeypatch.setattr("demo.check.recovery_faults", lambda *_: [])
    monkeypatch.setattr("demo.check.shown", lambda *_: [Shown(cause, ("S-113",), ())])
    assert check(api, SCENARIO, age_min) == code
    assert ("NOT SEEN on S-113" in capsys.readouterr().out) is bool(code)
    monkeypatch.setattr("demo.check.shown", lambda *_: [Shown(cause, ("S-113",), ("S-113",))])
    assert check(api, SCENARIO, 60.0) == 0


def test_the_leak_is_one_that_the_service_notices_while_it_lasts() -> None:
    """From the devices' own readings, every 15 s as the board keeps them."""
    number = next(n for n, one in enumerate(SCENARIO.cylinders) if one.leak is not None)
    leaking, curves = SCENARIO.cylinders[number], load_curves()
    assert leaking.leak is not None
    leak_s = 3600.0 * leaking.leak.from_h
    station = stations_of(SCENARIO)[number]
    station.advance(leak_s + 240.0, SCENARIO.reading_period_s, publish_from_s=leak_s - 600.0)
    packs = station.packs(0.0)
    walls, gauges = (
        [(pack[0]["bt"] + one["t"], one["v"]) for one in pack]
        for pack in (packs[leaking.clamp.device], packs[leaking.gauge.device])
    )
    air_pa = air_pressure_pa(SCENARIO.places[leaking.place])
    course = [
        Moment(at_s, temp_c + 273.15, gauge_pa + air_pa)
        for (at_s, temp_c), (_, gauge_pa) in zip(walls, gauges, strict=True)
    ]
    boils = [partial(boiling_temp_k, curves, leaking.truth.designation)]

    def noticed(until_s: float) -> bool:
        so_far = [one for one in course if one.at_s <= until_s]
        return boiling_off(Recent(so_far, leaking.clamp.lag_s, []), boils, tau_s=900.0) is not None

    assert not noticed(leak_s)
    assert noticed(leak_s + 240.0)
