"""The demo's recovery: equipment is emptied into two cylinders through the public interface, again and again."""

from dataclasses import replace
from datetime import timedelta

import pytest

from demo.check import recovery_faults
from demo.job import Job
from demo.publisher import stations_of
from demo.registration import register
from demo.scenario import load_scenario
from service.units import c_from_k
from tests.demo.test_registration import BEGAN_AT, ClientApi
from tests.support.clock import Clock

PERIOD_S = 15.0
WHOLE = load_scenario()
ON = WHOLE.recovery.cylinders
SMALL = replace(
    WHOLE,
    cylinders=tuple(
        replace(one, truth=replace(one.truth, net_mass_kg=19.6 if one.serial == ON[0] else 2.0))
        for one in WHOLE.cylinders
        if one.serial in ON
    ),
    recovery=replace(WHOLE.recovery, charge_kg=1.6, volume_m3=0.004),
)
"""So that it is quick: room for about 1 kg in the first cylinder, and 1.6 kg in the equipment."""


@pytest.fixture
def clock():
    return Clock(BEGAN_AT + timedelta(hours=8))


class Bench:
    """The stations, the job, and the worker that passes on the scales."""

    def __init__(self, api, worker, clock):
        self.api, self.worker, self.clock, self.said = api, worker, clock, []
        self.stations = stations_of(SMALL)
        for station in self.stations:
            station.at_s = 0.0
        self.hookups = {one["cylinder"]: one["id"] for one in api.get("/hookups", active="true")["items"]}
        self.job = self.employ()
        self.at_s = 0.0

    def employ(self):
        stations = {one.facts.serial: one for one in self.stations}
        return Job(self.api, SMALL.recovery, stations, self.said.append)

    def run(self, until, ticks=150):
        for _ in range(ticks):
            self.at_s += PERIOD_S
            self.job.step(self.at_s, PERIOD_S)
            for station in self.stations:
                station.advance(self.at_s, PERIOD_S, publish_from_s=self.at_s)
                self._tell(station)
            self.job.tick(self.at_s)
            if until():
                return True
        return False

    def _tell(self, station):
        rig = station.rig
        live = {
            "settling_state": "settled", "at": self.clock.forward(seconds=PERIOD_S / 2).isoformat(), "reasons": [],
            "temperature_c": c_from_k(rig.clamp_reading()), "gauge_pressure_kpa": rig.gauge_reading() / 1e3,
            "mass_kg": rig.scale_reading(),
        }  # fmt: skip
        answer = self.worker.put(f"/api/v1/hookups/{self.hookups[station.facts.serial]}/live", json=live)
        assert answer.status_code < 300, answer.get_data(as_text=True)


def test_a_job_is_swapped_held_ended_and_begun_again(client_as, worker, clock):
    api = ClientApi(client_as("supervisor"))
    register(api, SMALL, BEGAN_AT.timestamp())
    bench = Bench(api, worker, clock)
    assert recovery_faults(api, SMALL.recovery, 4.0) == [] and recovery_faults(api, SMALL.recovery, 6.0)
    assert bench.run(lambda: "the recovery has ended" in bench.said), bench.said
    (one,) = api.get("/recoveries")["items"]
    course = api.get(f"/recoveries/{one['id']}")
    assert [fill["over_kg"] for fill in course["cylinders"]] == [0.0, 0.0]
    assert all(fill["mass_kg"] > 0.1 for fill in course["cylinders"]), "it was swapped"
    assert course["ending"]["vacuum_met"] and course["ending"]["held_minutes"] >= 5.0
    assert course["recovered_kg"] == pytest.approx(1.6, abs=0.06)
    assert recovery_faults(api, SMALL.recovery, 60.0) == []
    assert recovery_faults(api, replace(SMALL.recovery, charge_kg=1.2), 60.0), "a wrong record would be seen"

    assert bench.run(lambda: len(api.get("/recoveries")["items"]) == 2, ticks=20), bench.said
    again = bench.employ()
    again.take_up()
    assert again.equipment.charge_kg == pytest.approx(1.6, abs=0.2), "a restart goes on where it was"
