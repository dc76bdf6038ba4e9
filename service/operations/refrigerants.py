"""Use cases for refrigerants: the catalogue, saturation at a temperature or a pressure."""

from dataclasses import dataclass

from service.operations.support.atmosphere import PressureReading, absolute
from service.operations.support.context import Services
from service.refrigerants.catalogue import Refrigerant


@dataclass(frozen=True, slots=True)
class Saturation:
    """Bubble and dew pressure [Pa] at a temperature, or bubble and dew temperature [K] at a pressure."""

    designation: str
    relative_uncertainty: float
    temp_k: float | None = None
    pressure_pa: float | None = None
    bubble_pa: float | None = None
    dew_pa: float | None = None
    bubble_temp_k: float | None = None
    dew_temp_k: float | None = None


def named(services: Services, text: str) -> Refrigerant:
    """The refrigerant that somebody wrote; UnknownRefrigerant when there is none."""
    return services.catalogue[services.catalogue.normalise(text)]


def at_temperature(services: Services, text: str, temp_k: float) -> Saturation:
    """Bubble and dew pressure; OutOfRange outside the curves."""
    item = named(services, text)
    bubble = float(services.curves.bubble_pressure_pa(item.designation, temp_k))
    dew = float(services.curves.dew_pressure_pa(item.designation, temp_k))
    return Saturation(
        item.designation, item.relative_uncertainty, temp_k=temp_k, bubble_pa=bubble, dew_pa=dew
    )


def at_pressure(services: Services, text: str, reading: PressureReading) -> Saturation:
    """Bubble and dew temperature; a gauge pressure without an elevation is taken at sea level."""
    item = named(services, text)
    pressure_pa = absolute(reading, 0.0).pressure_pa
    bubble = float(services.curves.bubble_temp_k(item.designation, pressure_pa))
    dew = float(services.curves.dew_temp_k(item.designation, pressure_pa))
    return Saturation(
        item.designation,
        item.relative_uncertainty,
        pressure_pa=pressure_pa,
        bubble_temp_k=bubble,
        dew_temp_k=dew,
    )
