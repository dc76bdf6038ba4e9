"""Use cases for the owner's prices."""

from collections.abc import Callable
from decimal import Decimal

from service.operations.checks import designation_of
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid, NotFound, StaleVersion
from service.operations.support.events import PRICE_CHANGED
from service.store import prices
from service.store.prices import StoredPrice


def listed(services: Services, actor: Actor) -> list[StoredPrice]:
    """Every price."""
    with services.database.reading(actor.organisation_id) as work:
        return prices.listed(work)


def put(
    services: Services,
    actor: Actor,
    designation: str,
    *,
    credit: Decimal,
    charge: Decimal,
    currency: str,
    fresh: Callable[[StoredPrice], bool] = lambda _: True,
) -> StoredPrice:
    """
    Set what a kilogram of a designation brings when reclaimed and costs when destroyed.

    Raises
    ------
    Invalid
        When the designation is unknown, or the currency is not that of the other prices.
    StaleVersion
        When there is a price that is not what the caller had read.
    """
    at, name = services.now(), _named(services, designation)
    with services.database.writing(actor.organisation_id) as work:
        present = prices.of(work, name, lock=True)
        if present is not None and not fresh(present):
            raise StaleVersion("price", name)
        others = {one.currency for one in prices.listed(work) if one.designation != name}
        if others and currency not in others:
            raise Invalid(
                FieldError("currency", currency, f"the currency of the other prices, {min(others)}")
            )
        prices.put(work, name, credit=credit, charge=charge, currency=currency, at=at, by=actor.name)
        told = {"designation": name, "credit_per_kg": str(credit), "charge_per_kg": str(charge)}
        tell(work, actor, at, PRICE_CHANGED, f"prices/{name}", {**told, "currency": currency})
        found = prices.of(work, name)
    if found is None:
        raise NotFound("price", name)
    return found


def remove(services: Services, actor: Actor, designation: str) -> None:
    """Take a price out of the table."""
    at, name = services.now(), _named(services, designation)
    with services.database.writing(actor.organisation_id) as work:
        if not prices.remove(work, name):
            raise NotFound("price", name)
        tell(work, actor, at, PRICE_CHANGED, f"prices/{name}", {"designation": name, "removed": True})


def _named(services: Services, designation: str) -> str:
    name = designation_of(services, designation, "designation")
    if name is None:
        raise Invalid(FieldError("designation", designation, "a designation such as R-410A"))
    return name
