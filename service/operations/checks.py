"""The guard's question, asked of the record: a dry run and a transfer go through here alike."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.cylinders.contents import UNKNOWN
from service.cylinders.judgement.guard import Check
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.state import Incoming
from service.cylinders.money import Price, Stake, stake
from service.cylinders.properties import (
    FILL_REFERENCE_K,
    covers,
    earliest_liquid_full_temp_k,
    liquid_fraction,
)
from service.cylinders.rules import Breach, Rule
from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid, Reason
from service.operations.support.lookup import by_serial
from service.refrigerants.catalogue import UnknownRefrigerant
from service.store import prices
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Checked:
    """
    Answer of a dry run.

    Parameters
    ----------
    judgement
        What is judged of the cylinder.
    incoming
        What was asked.
    check
        The guard's answer.
    liquid_fraction
        Share of the volume that would be liquid at 25 °C [-]; None where it cannot be told.
    liquid_full_temp_k
        At which it would be liquid-full [K]; None beyond the curves.
    stake
        Money that a mistake would cost, by the owner's table.
    """

    judgement: Judgement
    incoming: Incoming
    check: Check
    liquid_fraction: float | None
    liquid_full_temp_k: float | None
    stake: Stake


def check(services: Services, actor: Actor, serial: str, incoming: Incoming) -> Checked:
    """May this go into this cylinder now? Nothing is stored."""
    with services.database.reading(actor.organisation_id) as work:
        judged = judgements.of(services, work, by_serial(work, serial))
        return _checked(services, work, judged.judgement, incoming)


def _checked(services: Services, work: Work, judgement: Judgement, incoming: Incoming) -> Checked:
    """The guard's answer with what a person wants to see beside it."""
    known, state = services.knowledge, judgement.state
    answer = judgement.may_take(incoming)
    name = answer.limit.designation if answer.limit else None
    held = state.net_mass_kg
    fraction = full_at = None
    if (
        name is not None
        and held is not None
        and state.water_capacity_kg
        and covers(known.saturation, name, FILL_REFERENCE_K)
    ):
        filled = {"net_mass_kg": held + incoming.mass_kg, "water_capacity_kg": state.water_capacity_kg}
        fraction = liquid_fraction(known.saturation, name, temp_k=FILL_REFERENCE_K, **filled)
        possible = (*incoming.possible, *judgement.belief.believable) or (name,)
        full_at = earliest_liquid_full_temp_k(known.saturation, possible, **filled)
    masses = masses_at_stake(judgement, incoming)
    return Checked(judgement, incoming, answer, fraction, full_at, stake(masses, price_table(work)))


def masses_at_stake(judgement: Judgement, incoming: Incoming) -> Mapping[str, float]:
    """What is in and what would come in, by designation [kg]; the unknown has no price."""
    state = judgement.state
    held = state.net_mass_kg or 0.0
    masses = {name: share * held for name, share in state.contents.shares.items() if name != UNKNOWN and held}
    if incoming.designation is not None:
        masses[incoming.designation] = masses.get(incoming.designation, 0.0) + incoming.mass_kg
    return masses


def price_table(work: Work) -> dict[str, Price]:
    """The owner's prices by designation."""
    return {
        one.designation: Price(Decimal(one.credit_per_kg), Decimal(one.charge_per_kg))
        for one in prices.listed(work)
    }


def designation_of(services: Services, text: str | None, field: str = "refrigerant") -> str | None:
    """A designation as people write it, or None for ``unknown``; refuses what the catalogue does not have."""
    if text is None or text.strip().lower() in {"", UNKNOWN}:
        return None
    try:
        return services.catalogue.normalise(text)
    except UnknownRefrigerant as error:
        expected = "one designation such as R-410A, or unknown"
        raise Invalid(FieldError(field, text, expected)) from error


def one_mass(given: Sequence[str]) -> Invalid:
    """The refusal of a query that gives no mass, or two."""
    return Invalid(FieldError("mass_kg", list(given) or None, "one of mass_kg or mass_lb"))


def reason(breach: Breach) -> Reason:
    """A broken rule as a refusal tells it."""
    rule = breach.rule
    return Reason(
        rule.code, rule.text, rule.citation, breach.detail, rule.edition, rule.mark, rule.may_override
    )


def reasons(breaches: Sequence[Breach]) -> list[Reason]:
    """Every broken rule as a refusal tells it."""
    return [reason(breach) for breach in breaches]


def rule_codes(breaches: Sequence[Breach]) -> list[str]:
    """Codes of broken rules."""
    return [breach.rule.code for breach in breaches]


__all__ = [
    "Checked",
    "Rule",
    "check",
    "designation_of",
    "price_table",
    "reason",
    "reasons",
    "rule_codes",
]
