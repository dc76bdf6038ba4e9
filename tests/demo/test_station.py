"""Simulated devices: SenML like any device's, stamps in the past, going on where an earlier run stopped."""

import json
import time
from threading import Event

import pytest

from demo.publisher import CHUNK_S, Clock, publish, resume, save, stations_of
from demo.scenario import load_scenario
from demo.station import air_pressure_pa, air_temp_k
from ingest.wire import senml

SCENARIO = load_scenario()


@pytest.fixture
def station():
    return stations_of(SCENARIO)[0]


class Broker:
    """Takes packs and stops the demo after enough of them."""

    def __init__(self, stop: Event, enough: int) -> None:
        self.packs, self.stop, self.enough = [], stop, enough

    def send(self, packs):
        before = len(self.packs)
        self.packs += packs
        if len(self.packs) >= self.enough:
            self.stop.set()
        return len(self.packs) - before


def newest(pack):
    return max(pack[0]["bt"] + record["t"] for record in pack)


def test_packs_are_senml_with_the_names_and_units_of_the_interface(station):
    station.advance(120.0, 15.0, publish_from_s=0.0)
    packs = station.packs(1.7e9)
    assert set(packs) == {station.facts.gauge.device, station.facts.clamp.device}
    for device, pack in packs.items():
        readings = senml.read(json.dumps(pack), device, 1.7e9 + 120.0).readings
        assert len(readings) == 8
    gauge = packs[station.facts.gauge.device]
    assert gauge[0]["n"] == "gauge-pressure" and gauge[0]["u"] == "Pa"
    assert newest(gauge) == 1.7e9 + 120.0
    assert station.packs(1.7e9) == {}


def test_a_gauge_reads_against_the_air_of_its_place():
    places = SCENARIO.places
    assert air_pressure_pa(places["van-2"]) == pytest.approx(83_430 - 400, abs=50)  # ICAO standard atmosphere
    assert air_pressure_pa(places["shop"]) > 98_000


def test_the_air_follows_the_course_of_the_scenario():
    shop = SCENARIO.places["shop"]
    assert air_temp_k(shop, 0.0) == pytest.approx(273.15 + 18.0, abs=1e-9)
    assert air_temp_k(shop, 6 * 3600.0) == pytest.approx(273.15 + 26.0, abs=1.01)


def test_readings_published_before_are_not_published_again(station):
    station.advance(600.0, 15.0, publish_from_s=300.0)
    oldest = [pack[0]["bt"] + pack[0]["t"] for pack in station.packs(0.0).values()]
    assert min(oldest) >= 300.0


def test_catching_up_never_stamps_the_future_and_keeps_its_place(tmp_path):
    stop, kept = Event(), tmp_path / "demo" / "clock.json"
    broker = Broker(stop, enough=200)
    first = resume(kept, time.time(), SCENARIO.hours_in_the_past)
    publish(SCENARIO, broker, first, kept, stop, print)
    stamps = [newest(pack) for _, _, pack in broker.packs]
    assert max(stamps) <= time.time()
    clock = resume(kept, time.time(), SCENARIO.hours_in_the_past)
    assert clock.began_at == first.began_at
    assert max(stamps) <= clock.published_until <= max(stamps) + CHUNK_S


def test_a_first_run_begins_hours_in_the_past(tmp_path):
    assert resume(tmp_path / "none.json", 1e9, 6.0) == Clock(1e9 - 21_600.0, 1e9 - 21_600.0)


def test_after_a_long_pause_nothing_is_published_twice(tmp_path):
    kept = tmp_path / "clock.json"
    save(kept, Clock(1e9, 1e9 + 3600.0))
    clock = resume(kept, 1e9 + 80 * 3600.0, 6.0)
    assert clock == Clock(1e9 + 74 * 3600.0, 1e9 + 74 * 3600.0)
