"""One simulated cylinder with its devices: stepped through time, giving SenML packs as real devices would."""

import math
from dataclasses import dataclass, field
from random import Random
from typing import Any

import numpy as np

from demo.physics import ClampSpec, Cylinder, CylinderSpec, Gauge, GaugeSpec, Rig, Surroundings
from demo.scenario import ClampFacts, DemoCylinder, GaugeFacts, Place
from demo.truth import contents_of, volume_m3

ICE_K = 273.15
DAY_S = 86_400.0
DAILY_SWING_K = 1.0
SECOND_SEED = 1000
Record = dict[str, Any]


def air_temp_k(place: Place, since_start_s: float) -> float:
    """Air temperature of a place [K]: the scenario's course, then a gentle daily swing."""
    hours, temps_c = zip(*place.air_temperature, strict=True)
    swing = DAILY_SWING_K * math.sin(2 * math.pi * since_start_s / DAY_S)
    return float(np.interp(since_start_s / 3600.0, hours, temps_c)) + swing + ICE_K


def air_pressure_pa(place: Place) -> float:
    """Pressure of the air at a place [Pa]: the ICAO standard atmosphere at its elevation, and the weather."""
    standard: float = 101_325.0 * (1.0 - 2.25577e-5 * place.elevation_m) ** 5.25588
    return standard + 1000.0 * place.weather_kpa


def gauge_spec(gauge: GaugeFacts) -> GaugeSpec:
    """Errors of a gauge of the scenario, in the simulator's units."""
    return GaugeSpec(
        zero_pa=gauge.zero_kpa * 1e3,
        gain=gauge.gain,
        noise_pa=gauge.noise_kpa * 1e3,
        step_pa=gauge.step_kpa * 1e3,
    )


@dataclass(slots=True)
class Station:
    """A cylinder of the scenario with its gauge and clamp; time in seconds since the scenario's start.

    Parameters
    ----------
    facts : DemoCylinder
        What the scenario says of it.
    place : Place
        Where it stands.
    starts_s : float
        When it is hooked up, [s].
    seed : int
        Of the instruments' noise.
    fill_kg_s : float
        What a recovery runs into it, [kg/s].
    fills : bool
        Whether its valve is open to the recovery machine.
    """

    facts: DemoCylinder
    place: Place
    starts_s: float
    seed: int
    fill_kg_s: float = 0.0
    fills: bool = False
    rig: Rig = field(init=False)
    at_s: float = field(init=False)
    _records: dict[str, list[Record]] = field(init=False)
    _second_rng: Random = field(init=False)

    def __post_init__(self) -> None:
        facts, gauge, clamp = self.facts, self.facts.gauge, self.facts.clamp
        scale = (facts.water_capacity_kg / 21.6) ** (1 / 3)
        self.at_s = self.starts_s
        self._records = {gauge.device: [], clamp.device: []}
        for second in self.facts.instruments[1:]:
            self._records |= {device.device: [] for device in second}
        # Noise of its own: what the first devices read does not depend on whether there are others.
        self._second_rng = Random(self.seed + SECOND_SEED)
        self.rig = Rig(
            cylinder=Cylinder(
                CylinderSpec(
                    water_volume_m3=volume_m3(facts),
                    diameter_m=0.31 * scale,
                    height_m=0.42 * scale,
                    steel_kg=facts.tare_kg,
                ),
                contents_of(facts),
                facts.truth.net_mass_kg,
                facts.start_temp_c + ICE_K,
            ),
            clamp_spec=ClampSpec(
                lag_s=clamp.lag_s, offset_k=clamp.offset_k, noise_k=clamp.noise_k, step_k=clamp.step_k
            ),
            gauge_spec=gauge_spec(gauge),
            ambient_k=air_temp_k(self.place, self.starts_s),
            rng=Random(self.seed),
            atmosphere_pa=air_pressure_pa(self.place),
            tare_kg=facts.tare_kg,
        )
        self.rig.clamp.move(facts.probe_start_temp_c + ICE_K)

    def advance(self, until_s: float, period_s: float, *, publish_from_s: float) -> None:
        """Step to a time, taking a reading of each device every period.

        Parameters
        ----------
        until_s : float
            Step no further than this, [s].
        period_s : float
            Between readings of one device, [s].
        publish_from_s : float
            Readings before this were published by an earlier run and are not kept, [s].
        """
        while self.at_s + period_s <= until_s:
            air = air_temp_k(self.place, self.at_s)
            around = Surroundings(air, draw_kg_s=self._leak_kg_s(), fill_kg_s=self.fill_kg_s, fill_temp_k=air)
            self.rig.step(period_s, around)
            self.at_s += period_s
            if self.at_s >= publish_from_s and not self._silent():
                self._read()
                for gauge, clamp in self.facts.instruments[1:]:
                    self._read_second(gauge, clamp)

    def packs(self, began_at: float) -> dict[str, list[Record]]:
        """Hand over what was read since the last call: a SenML pack a device, times from the epoch.

        Parameters
        ----------
        began_at : float
            The scenario's start, [s] since 1970.
        """
        packs = {}
        for device, records in self._records.items():
            if records:
                base = began_at + records[-1]["t"]
                relative = [{**record, "t": round(record["t"] - records[-1]["t"], 3)} for record in records]
                packs[device] = [{"bn": f"{device}:", "bt": round(base, 3), **relative[0]}, *relative[1:]]
        self._records = {device: [] for device in self._records}
        return packs

    def _read(self) -> None:
        gauge, clamp = self.facts.gauge, self.facts.clamp
        self._note(gauge.device, "gauge-pressure", "Pa", round(self.rig.gauge_reading(), 1))
        self._note(clamp.device, "wall-temperature", "Cel", round(self.rig.clamp_reading() - ICE_K, 2))
        if self.place.barometer:
            self._note(gauge.device, "ambient-pressure", "Pa", round(self.rig.atmosphere_pa, -1))
        if clamp.ambient:
            self._note(clamp.device, "ambient-temperature", "Cel", round(self.rig.ambient_k - ICE_K, 1))
        if self.facts.scale:
            self._note(clamp.device, "mass", "kg", round(self.rig.scale_reading(), 2))

        if clamp.battery_percent is not None:
            self._note(clamp.device, "battery", "%EL", clamp.battery_percent)

    def _read_second(self, gauge: GaugeFacts, clamp: ClampFacts) -> None:
        """Another pair of devices at the same places, with errors of their own."""
        rng, rig = self._second_rng, self.rig
        pressure = Gauge(gauge_spec(gauge)).reading(rig.pressure_at_gauge_pa, rig.atmosphere_pa, rng)
        temp_c = rig.clamp.true_k - ICE_K + clamp.offset_k + rng.gauss(0.0, clamp.noise_k)
        self._note(gauge.device, "gauge-pressure", "Pa", round(pressure, 1))
        self._note(clamp.device, "wall-temperature", "Cel", round(temp_c / clamp.step_k) * clamp.step_k)

    def _leak_kg_s(self) -> float:
        leak = self.facts.leak
        if leak is None or not 0.0 <= self.at_s / 3600.0 - leak.from_h < leak.lasts_h:
            return 0.0
        return leak.kg_s

    def _silent(self) -> bool:
        from_h = self.facts.silent_from_h
        return from_h is not None and self.at_s >= from_h * 3600.0

    def _note(self, device: str, name: str, unit: str, value: float) -> None:
        self._records[device].append({"n": name, "u": unit, "v": value, "t": self.at_s})
