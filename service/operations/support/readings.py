"""A temperature and a pressure as somebody read them become a pair: absolute, every uncertainty stated."""

from dataclasses import dataclass

from service.operations.support.atmosphere import Atmosphere, PressureReading, absolute
from service.operations.support.context import Instruments
from service.verdict.model import Pair
from service.verdict.reading_conditions import UNKNOWN, Conditions, temperature_uncertainty_k


class BelowVacuum(ValueError):
    """A gauge pressure below the local vacuum; ``pressure_pa`` is what it would be, absolute [Pa]."""

    def __init__(self, pressure_pa: float) -> None:
        super().__init__(f"{pressure_pa} Pa absolute")
        self.pressure_pa = pressure_pa


@dataclass(frozen=True, slots=True)
class Reading:
    """
    A temperature and a pressure of one settled state, as read.

    Parameters
    ----------
    temp_k
        As read [K].
    pressure
        As read, gauge or absolute.
    temp_noise_k, pressure_noise_pa, temp_bias_k, pressure_bias_pa
        Standard uncertainties; those not stated come from the hookup or the settings [K], [Pa].
    conditions
        How the temperature was read by hand. Without a hookup that watched it settle they make up the uncertainty of
        the temperature where none is stated.
    """

    temp_k: float
    pressure: PressureReading
    temp_noise_k: float | None = None
    pressure_noise_pa: float | None = None
    temp_bias_k: float | None = None
    pressure_bias_pa: float | None = None
    conditions: Conditions = UNKNOWN


@dataclass(frozen=True, slots=True)
class Settled:
    """A pair, and the atmosphere that its gauge pressure was against; none when read absolute."""

    pair: Pair
    atmosphere: Atmosphere | None


def settled(
    reading: Reading,
    usual: Instruments,
    elevation_m: float | None,
    *,
    temperature_device: str | None = None,
    pressure_device: str | None = None,
    watched: bool = False,
) -> Settled:
    """
    The pair that a reading is: the one place where a gauge pressure becomes evidence.

    Parameters
    ----------
    reading
        As read.
    usual
        Stand in for the uncertainties that it does not state.
    elevation_m
        Of the place, where the reading states none [m].
    temperature_device, pressure_device
        Names, where they are known.
    watched
        Somebody saw the temperature settle, so that nothing but the instrument is in doubt.

    Raises
    ------
    BelowVacuum
        When the absolute pressure is not above zero.
    """
    pressure = absolute(reading.pressure, elevation_m)
    if pressure.pressure_pa <= 0.0:
        raise BelowVacuum(pressure.pressure_pa)
    atmosphere = pressure.atmosphere
    usual_k = usual.temperature_bias_k
    by_hand_k = usual_k if watched else temperature_uncertainty_k(usual_k, reading.conditions)
    pair = Pair(
        temp_k=reading.temp_k,
        pressure_pa=pressure.pressure_pa,
        temp_noise_k=_or(reading.temp_noise_k, usual.temperature_k),
        pressure_noise_pa=_or(reading.pressure_noise_pa, usual.pressure_pa),
        temp_bias_k=_or(reading.temp_bias_k, by_hand_k),
        pressure_bias_pa=_or(reading.pressure_bias_pa, usual.pressure_bias_pa),
        atmosphere_bias_pa=atmosphere.uncertainty_pa if atmosphere else 0.0,
        atmosphere_pa=atmosphere.pressure_pa if atmosphere else None,
        temperature_device=temperature_device,
        pressure_device=pressure_device,
    )
    return Settled(pair, atmosphere)


def _or(stated: float | None, usual: float) -> float:
    return usual if stated is None else stated
