"""What a technician types about a recovery, read into what the use cases take."""

from collections.abc import Mapping
from datetime import date
from typing import cast

from service.board import session
from service.board.forms import Form
from service.board.pages.readings import conditions_of
from service.board.quantities import Quantities
from service.cylinders.recovery import METHODS
from service.cylinders.recovery_vacuum import IN_HG_PA, NEW_MACHINE
from service.operations.recoveries import NewRecovery
from service.operations.recovery_turns import Closed
from service.operations.support.atmosphere import PressureReading
from service.operations.support.readings import Reading
from service.store.appliances import Appliance
from service.store.equipment import Equipment
from service.units import k_from_c, k_from_f, kg_from_lb, pa_from_kpa, pa_from_psi

SERIALS = ("cylinder_1", "cylinder_2", "cylinder_3")
MACHINES = {"": None, "new": NEW_MACHINE, "old": date(1993, 11, 14)}
VACUUM_UNITS = ("in-hg", "gauge", "absolute")


def mass(form: Form, show: Quantities, name: str, label: str, *, required: bool = False) -> float | None:
    """Read a mass in the person's unit [kg]."""
    value = form.number(name, label, required=required, above=0.0, at_most=5000.0)
    return None if value is None else (kg_from_lb(value) if show.inch_pound else value)


def new_recovery(form: Form, show: Quantities, known: Mapping[str, Appliance]) -> NewRecovery | None:
    """Read what is to begin; None where something is missing, which the form then says."""
    chosen = known.get(form.values.get("appliance_id", ""))
    equipment = _equipment(form, show, chosen)
    refrigerant = form.text("refrigerant", "Refrigerant", required=chosen is None, longest=60)
    serials = [
        typed
        for name in SERIALS
        if (typed := form.text(name, "Cylinder", required=name == "cylinder_1", longest=64))
    ]
    method = form.choice("method", "How", METHODS)
    machine = (
        form.choice("machine", "Recovery machine made", tuple(MACHINES)) if _given(form, "machine") else ""
    )
    gross = mass(form, show, "gross_before", "Weight of the first cylinder")
    at_rest = _at_rest(form, show)
    reason = form.text("override_reason", "Reason", required=False, longest=400)
    if not form.ok:
        return None
    person = session.person()
    return NewRecovery(
        refrigerant=refrigerant or (chosen.designation if chosen else None), cylinders=serials,
        equipment=equipment, at_rest=at_rest, method=method, technician=person.name if person else None,
        certification_number=person.certification_number if person else None,
        machine_made_on=MACHINES[machine], small_appliance=_given(form, "small_appliance"),
        compressor_runs=form.values.get("compressor") != "off", gross_before_kg=gross,
        override_reason=reason or None,
    )  # fmt: skip


def closed(form: Form, show: Quantities, cylinder: str | None) -> Closed:
    """Read what is said when a cylinder is taken off; without a weight the scale's is taken."""
    return Closed(mass(form, show, "gross_after", "Weight now"), _given(form, "confirmed"), cylinder)


def vacuum_reading(form: Form, *, required: bool) -> PressureReading | None:
    """Read what the gauge on the equipment shows."""
    unit = form.values.get("vacuum_unit") or "in-hg"
    value = form.number("vacuum", "Gauge on the equipment", required=required, above=-1000.0, at_most=5000.0)
    if value is None:
        return None
    if form.choice("vacuum_unit", "What the gauge shows", VACUUM_UNITS) == "in-hg":
        return PressureReading(gauge_pa=-value * IN_HG_PA)
    pascals = pa_from_psi(value) if session.show().inch_pound else pa_from_kpa(value)
    return PressureReading(gauge_pa=pascals) if unit == "gauge" else PressureReading(absolute_pa=pascals)


def _given(form: Form, name: str) -> bool:
    return bool(form.values.get(name))


def _equipment(form: Form, show: Quantities, chosen: Appliance | None) -> Equipment:
    told: Equipment = {}
    if chosen is not None:
        told = {
            "owner": chosen.owner, "location": chosen.location, "appliance": chosen.name,
            "circuit": chosen.circuit, "charge_kg": chosen.full_charge_kg,
        }  # fmt: skip
    if appliance := form.text("appliance", "Equipment", required=False, longest=120):
        told["appliance"] = appliance
    if location := form.text("location", "Where it is", required=False, longest=120):
        told["location"] = location
    if owner := form.text("owner", "Its owner", required=False, longest=120):
        told["owner"] = owner
    charge = mass(form, show, "charge", "Charge")
    if charge is not None:
        told["charge_kg"] = charge
    return cast("Equipment", {name: value for name, value in told.items() if value not in ("", None)})


def _at_rest(form: Form, show: Quantities) -> Reading | None:
    temp = form.number(
        "standing_temperature", "Temperature at rest", required=False, above=-150.0, at_most=250.0
    )
    pressure = form.number(
        "standing_pressure", "Pressure at rest", required=False, above=-101.0, at_most=9000.0
    )
    if (temp is None) != (pressure is None):
        missing = "standing_temperature" if temp is None else "standing_pressure"
        form.errors.setdefault(missing, "At rest: temperature and pressure belong together")
    if temp is None or pressure is None:
        return None
    gauge_pa = pa_from_psi(pressure) if show.inch_pound else pa_from_kpa(pressure)
    return Reading(
        temp_k=k_from_f(temp) if show.inch_pound else k_from_c(temp),
        pressure=PressureReading(gauge_pa=gauge_pa),
        conditions=conditions_of(form),
    )
