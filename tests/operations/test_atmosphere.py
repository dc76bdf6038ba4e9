"""A gauge reads against the local atmosphere: barometer beats elevation beats an honest guess."""

import pytest

from service.operations.support.atmosphere import (
    UNKNOWN_UNCERTAINTY_PA,
    PressureReading,
    absolute,
    atmosphere_at,
)


def test_a_barometer_beats_an_elevation() -> None:
    atmosphere = atmosphere_at(1609.0, 84_000.0)
    assert (atmosphere.pressure_pa, atmosphere.source) == (84_000.0, "barometer")


def test_denver_is_18_kpa_below_the_sea() -> None:
    # reference/standards.md, computed from the ICAO row: 17.9 kPa at 1609 m.
    difference = atmosphere_at(0.0).pressure_pa - atmosphere_at(1609.0).pressure_pa
    assert difference == pytest.approx(17_900, abs=50)


def test_what_is_less_known_is_less_certain() -> None:
    barometer, elevation, unknown = atmosphere_at(0.0, 101_000.0), atmosphere_at(0.0), atmosphere_at(None)
    assert barometer.uncertainty_pa < elevation.uncertainty_pa < unknown.uncertainty_pa
    assert unknown.uncertainty_pa == UNKNOWN_UNCERTAINTY_PA
    assert abs(unknown.pressure_pa - atmosphere_at(0.0).pressure_pa) < 2 * unknown.uncertainty_pa
    assert abs(unknown.pressure_pa - atmosphere_at(1000.0).pressure_pa) < 2 * unknown.uncertainty_pa


def test_an_absolute_reading_needs_no_atmosphere() -> None:
    pressure = absolute(PressureReading(absolute_pa=1_044_000.0), 1609.0)
    assert (pressure.pressure_pa, pressure.atmosphere) == (1_044_000.0, None)


def test_the_readings_own_elevation_beats_the_places() -> None:
    at_sea = absolute(PressureReading(gauge_pa=937_687.0, elevation_m=0.0), 1609.0)
    assert at_sea.pressure_pa == pytest.approx(937_687.0 + 101_325.0)
    in_denver = absolute(PressureReading(gauge_pa=937_687.0), 1609.0)
    assert in_denver.pressure_pa == pytest.approx(937_687.0 + 83_440, abs=60)


def test_neither_gauge_nor_absolute_is_no_reading() -> None:
    with pytest.raises(ValueError, match="absolute or gauge"):
        absolute(PressureReading(), 0.0)
