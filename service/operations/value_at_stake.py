"""Money at stake in one cylinder, by the owner's table."""

from dataclasses import dataclass

from service.cylinders.contents import UNKNOWN
from service.cylinders.judgement.advice import Advice
from service.cylinders.judgement.judge import Judgement
from service.cylinders.money import Stake, stake
from service.operations.checks import price_table
from service.operations.support import judgements
from service.operations.support.context import Actor, Services
from service.operations.support.lookup import by_serial


@dataclass(frozen=True, slots=True)
class Staked:
    """What the contents would bring when reclaimed and cost when destroyed, and what to do with them."""

    stake: Stake
    advice: Advice


def of_cylinder(services: Services, actor: Actor, serial: str) -> Staked:
    """Money at stake in a cylinder, beside its advice."""
    with services.database.reading(actor.organisation_id) as work:
        judged = judgements.of(services, work, by_serial(work, serial))
        return Staked(stake(_masses(judged.judgement), price_table(work)), judged.judgement.advice)


def _masses(judgement: Judgement) -> dict[str, float]:
    """By the record, else by what is likeliest in it [kg]."""
    state, mass = judgement.state, judgement.state.net_mass_kg or 0.0
    shares = {name: share for name, share in state.contents.shares.items() if name != UNKNOWN}
    if not shares and judgement.name.designation is not None:
        shares = {judgement.name.designation: 1.0}
    return {name: share * mass for name, share in shares.items() if mass > 0.0}
