"""Ask back instead of believing: figures that no cylinder has are taken only when somebody confirms them."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from service.cylinders.markings import Marks
from service.cylinders.plausibility import Doubt, net_mass_doubt, stamp_doubts, unusable_characters
from service.operations.support.context import Services
from service.operations.support.errors import Conflict, FieldError, Invalid, Reason

ASK: Final = "Where it is right, send it again with confirmed: true."


def usable(serial: str) -> None:
    """
    Refuse a serial that the address of a page cannot carry.

    Raises
    ------
    Invalid
        Naming the characters.
    """
    bad = unusable_characters(serial)
    if bad or not serial.strip():
        raise Invalid(FieldError("serial", serial, f"no {bad!r} in it" if bad else "a serial as stamped"))


def ask_back(services: Services, marks: Marks, values: Mapping[str, Any], claims: Sequence[str]) -> None:
    """
    Refuse figures of a cylinder that cannot be, unless they are confirmed.

    Parameters
    ----------
    services
        Densities.
    marks
        Of the cylinder.
    values
        Its ``water_capacity_kg``, ``tare_kg`` and ``gross_mass_kg`` as they would be [kg].
    claims
        What may be in it; anything where nobody says.

    Raises
    ------
    Conflict
        With every doubt.
    """
    capacity, tare, gross = (values.get(name) for name in ("water_capacity_kg", "tare_kg", "gross_mass_kg"))
    doubts: list[Doubt] = list(stamp_doubts(marks, capacity, tare))
    if capacity and tare is not None and gross is not None:
        names = claims or services.catalogue.designations
        heavy = net_mass_doubt(gross - tare, names, capacity, services.knowledge.saturation)
        doubts += [heavy] if heavy is not None else []
    if doubts:
        raise Conflict([_reason(doubt) for doubt in doubts])


def _reason(doubt: Doubt) -> Reason:
    text = f"{doubt.field}: {doubt.value_kg:g} kg is not plausible: {doubt.why}. {ASK}"
    return Reason("implausible", text, detail=doubt.field, may_override=True)
