"""The scenario as data: places, cylinders, instruments with their errors, and what is really inside."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any


@dataclass(frozen=True, slots=True)
class Truth:
    """What a cylinder really holds; the service is never told.

    Parameters
    ----------
    designation : str
        The refrigerant, or the larger part of a mixture.
    net_mass_kg : float
        Mass of all the contents, [kg].
    state : str
        `two-phase` or `vapour-only`.
    air_kpa : float or None
        Partial pressure of air at 25 °C, [kPa].
    vapour_lost_fraction : float or None
        Share of a full charge's mass that has left as vapor, [-].
    mixed_with : str or None
        A second refrigerant.
    mixed_fraction : float or None
        Its share by mass, [-].
    """

    designation: str
    net_mass_kg: float
    state: str
    air_kpa: float | None = None
    vapour_lost_fraction: float | None = None
    mixed_with: str | None = None
    mixed_fraction: float | None = None

    @property
    def contamination(self) -> str:
        """In the words of the verdict."""
        if self.mixed_with:
            return "mixed"
        if self.vapour_lost_fraction:
            return "shifted"
        return "air" if self.air_kpa else "none-detected"


@dataclass(frozen=True, slots=True)
class GaugeFacts:
    """A pressure device and its hidden errors, in [kPa]; the gain error is a share."""

    device: str
    zero_kpa: float
    gain: float
    noise_kpa: float
    step_kpa: float


@dataclass(frozen=True, slots=True)
class ClampFacts:
    """A temperature device, its lag [s] and hidden errors [K]; `ambient` if it also feels the air."""

    device: str
    lag_s: float
    offset_k: float
    noise_k: float
    step_k: float
    ambient: bool
    battery_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Leak:
    """Vapor that escapes for a while: from when [h] since the scenario's start, for how long [h], how much [kg/s]."""

    from_h: float
    lasts_h: float
    kg_s: float


@dataclass(frozen=True, slots=True)
class DemoCylinder:
    """One cylinder, what is told of it and what is not; fields as in `scenario.json`.

    `causes` are those that need somebody and that the board is to show; `silent_from_h` is when its devices fall
    silent [h] since the scenario's start; `second_gauge` and `second_clamp` are another pair of devices on it;
    one that is not `compared` has devices that contradict each other.
    """

    serial: str
    place: str
    story: str
    marks: str
    requalified_months_ago: int
    flammable_marked: bool
    water_capacity_kg: float
    tare_kg: float
    claimed_designation: str | None
    weighed: bool
    hooked_up_hours_ago: float
    start_temp_c: float
    probe_start_temp_c: float
    gauge: GaugeFacts
    clamp: ClampFacts
    scale: bool
    temperature_bias_uncertainty_k: float
    pressure_bias_uncertainty_kpa: float
    truth: Truth
    causes: tuple[str, ...] = ()
    leak: Leak | None = None
    silent_from_h: float | None = None
    second_gauge: GaugeFacts | None = None
    second_clamp: ClampFacts | None = None
    compared: bool = True

    @property
    def instruments(self) -> tuple[tuple[GaugeFacts, ClampFacts], ...]:
        """Each pair of a gauge and a clamp on it."""
        first = (self.gauge, self.clamp)
        if self.second_gauge is None or self.second_clamp is None:
            return (first,)
        return first, (self.second_gauge, self.second_clamp)


@dataclass(frozen=True, slots=True)
class Place:
    """A shop or van: elevation [m], whether it has a barometer, its air's temperature [h, °C] from the start.

    `weather_kpa` is how far its air pressure lies from the standard atmosphere's, [kPa]; hidden.
    """

    name: str
    kind: str
    elevation_m: float
    barometer: bool
    weather_kpa: float
    air_temperature: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Recovery:
    """The equipment that somebody recovers from, its charge [kg] and volume [m3], and the cylinders in order."""

    owner: str
    location: str
    appliance: str
    refrigerant: str
    charge_kg: float
    volume_m3: float
    technician: str
    cylinders: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scenario:
    """The whole demo; the period of readings in [s]."""

    hours_in_the_past: float
    reading_period_s: float
    seed: int
    places: Mapping[str, Place]
    cylinders: tuple[DemoCylinder, ...]
    recovery: Recovery


def load_scenario() -> Scenario:
    """Read `scenario.json`."""
    content = json.loads((files("demo") / "scenario.json").read_text(encoding="utf-8"))
    return Scenario(
        hours_in_the_past=content["hours_in_the_past"],
        reading_period_s=content["reading_period_s"],
        seed=content["seed"],
        places={place["name"]: _place(place) for place in content["places"]},
        cylinders=tuple(_cylinder(cylinder) for cylinder in content["cylinders"]),
        recovery=Recovery(**{**content["recovery"], "cylinders": tuple(content["recovery"]["cylinders"])}),
    )


def _place(record: dict[str, Any]) -> Place:
    points = tuple((float(hour), float(temp)) for hour, temp in record["air_temperature"])
    return Place(**{**record, "air_temperature": points})


def _cylinder(record: dict[str, Any]) -> DemoCylinder:
    kinds = {
        "gauge": GaugeFacts,
        "clamp": ClampFacts,
        "second_gauge": GaugeFacts,
        "second_clamp": ClampFacts,
        "leak": Leak,
        "truth": Truth,
    }
    parts = {name: kind(**record[name]) for name, kind in kinds.items() if name in record}
    return DemoCylinder(**{**record, **parts, "causes": tuple(record.get("causes", ()))})
