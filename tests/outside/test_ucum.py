"""The UCUM subset against the constants of pint, which follow NIST SP 811 and CODATA."""

import pint
import pytest

from ingest.wire.units import MASSES, PRESSURES, TEMPERATURES, UNITS, in_si

PINT = {
    "Pa": "pascal",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "mbar": "millibar",
    "bar": "bar",
    "atm": "atm",
    "[psi]": "psi",
    "mm[Hg]": "mmHg",
    "[in_i'Hg]": "inHg",
    "K": "kelvin",
    "Cel": "degC",
    "[degF]": "degF",
    "kg": "kilogram",
    "g": "gram",
    "t": "metric_ton",
    "[lb_av]": "pound",
    "[oz_av]": "ounce",
}
REGISTRY = pint.UnitRegistry()


@pytest.mark.parametrize("value", [-14.5, 0.0, 72.3, 250.0])
@pytest.mark.parametrize(
    ("quantity", "unit", "si"),
    [
        *(("gauge-pressure", unit, "pascal") for unit in PRESSURES),
        *(("wall-temperature", unit, "kelvin") for unit in TEMPERATURES),
        *(("mass", unit, "kilogram") for unit in MASSES),
    ],
)
def test_every_unit_is_what_another_library_says(quantity: str, unit: str, si: str, value: float) -> None:
    """UCUM rounds the meter of mercury column to 133.3220 kPa, 3e-6 less than the conventional 133.322387415."""
    expected = REGISTRY.Quantity(value, PINT[unit]).to(si).magnitude
    assert in_si(quantity, unit, value) == pytest.approx(
        expected, rel=4e-6 if "Hg" in unit else 1e-12, abs=1e-9
    )


def test_a_share_is_told_in_percent() -> None:
    assert (in_si("battery", "%", 81.0), in_si("battery", "1", 0.81)) == (81.0, 81.0)


def test_no_quantity_is_without_units() -> None:
    assert all(UNITS.values())
