"""A verdict on a cylinder, as it is answered."""

from dataclasses import replace

from service.api.schemas.verdict_answers import VerdictOn
from service.cylinders.judgement.advice import Advice
from service.cylinders.money import Stake
from service.store.verdicts import StoredVerdict


def verdict_on(
    serial: str, stored: StoredVerdict, advice: Advice | None = None, stake: Stake | None = None
) -> VerdictOn:
    """
    A stored verdict beside the cylinder that it is on.

    What to do with a cylinder is more than its readings say: with ``advice`` the disposition is that of its judgement.
    """
    found = stored.found
    if advice is not None:
        found = replace(
            found, disposition=replace(found.disposition, code=advice.disposition, text=advice.text)
        )
    return VerdictOn(stored.id, serial, stored.epoch, stored.pair_id, stored.reached_at, found, stake)
