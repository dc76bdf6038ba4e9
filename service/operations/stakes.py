"""Money at stake in one cylinder, by the owner's table."""

from collections.abc import Mapping

from service.cylinders.contents import UNKNOWN
from service.cylinders.money import Price, Stake, stake
from service.cylinders.state import CylinderState
from service.operations import cylinders, states
from service.operations.checks import price_table
from service.operations.context import Actor, Services


def of_cylinder(services: Services, actor: Actor, serial: str) -> Stake:
    """What the contents would bring when reclaimed and cost when destroyed."""
    with services.database.reading(actor.organisation_id) as work:
        state = states.of(services, work, cylinders.by_serial(work, serial))
        return of_state(state, price_table(work))


def of_state(state: CylinderState, prices: Mapping[str, Price]) -> Stake:
    """The same for a cylinder at hand: by the record, else by what the verdict finds likeliest."""
    contents = state.contents
    mass = 0.0 if contents.is_empty else contents.mass_kg or 0.0
    shares = {name: share for name, share in contents.shares.items() if name != UNKNOWN}
    if not shares and state.assessment is not None and state.assessment.candidates:
        shares = {state.assessment.candidates[0]: 1.0}
    return stake({name: share * mass for name, share in shares.items() if mass > 0.0}, prices)
