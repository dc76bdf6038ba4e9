"""The types of event and following them; every change tells one in its own transaction."""

from collections.abc import Sequence

from service.operations.support.context import Actor, Services
from service.store import events
from service.store.cylinders import CYLINDER_STATE as CYLINDER_STATE
from service.store.events import Event, Sight

VERDICT_REACHED = "heelmark.verdict.reached"
PAIR_RECORDED = "heelmark.pair.recorded"
CYLINDER_CHANGED = "heelmark.cylinder.changed"
HOOKUP_CHANGED = "heelmark.hookup.changed"
DEVICE_CHANGED = "heelmark.device.changed"
PLACE_CHANGED = "heelmark.place.changed"
RECLAIMER_CHANGED = "heelmark.reclaimer.changed"
APPLIANCE_CHANGED = "heelmark.appliance.changed"
CUSTODY_CHANGED = "heelmark.custody.changed"
RECOVERY_CHANGED = "heelmark.recovery.changed"
ORGANISATION_CHANGED = "heelmark.organisation.changed"
INSTRUMENT_CHECKED = "heelmark.instrument.checked"
ANALYSIS_RECORDED = "heelmark.analysis.recorded"
ALARM_RAISED = "heelmark.alarm.raised"
ALARM_ACKNOWLEDGED = "heelmark.alarm.acknowledged"
ALARM_CLEARED = "heelmark.alarm.cleared"
TOKEN_CHANGED = "heelmark.token.changed"  # noqa: S105
PERSON_CHANGED = "heelmark.person.changed"
TRANSFER_RECORDED = "heelmark.transfer.recorded"
EXCHANGE_RECORDED = "heelmark.exchange.recorded"
PRICE_CHANGED = "heelmark.price.changed"
WEBHOOK_CHANGED = "heelmark.webhook.changed"
CREDENTIAL_CHANGED = "heelmark.device-credential.changed"
IDENTITY_CHANGED = "heelmark.identity.changed"
MAPPING_CHANGED = "heelmark.mapping.changed"


ADMINISTRATIVE = (
    TOKEN_CHANGED,
    PERSON_CHANGED,
    PRICE_CHANGED,
    WEBHOOK_CHANGED,
    CREDENTIAL_CHANGED,
    IDENTITY_CHANGED,
)
"""What supervisors alone hear of: who has access, and to what."""


PUBLIC_TYPES = (
    CYLINDER_STATE,
    VERDICT_REACHED,
    ALARM_RAISED,
    ALARM_ACKNOWLEDGED,
    ALARM_CLEARED,
    CYLINDER_CHANGED,
    TRANSFER_RECORDED,
    EXCHANGE_RECORDED,
    RECOVERY_CHANGED,
    HOOKUP_CHANGED,
    PLACE_CHANGED,
    INSTRUMENT_CHECKED,
    ANALYSIS_RECORDED,
)
"""What other systems hear of; the AsyncAPI document has the data of each."""


def sight_of(actor: Actor, types: Sequence[str] = ()) -> Sight:
    """The events that an actor may see, of some types if any are named."""
    if actor.scope == "events":
        types = [kind for kind in types or PUBLIC_TYPES if kind in PUBLIC_TYPES]
    supervises = actor.scope in ("supervisor", "administrator")
    return Sight(types, () if supervises else ADMINISTRATIVE, actor.places)


def follow(
    services: Services, actor: Actor, last_id: int, *, types: Sequence[str] = (), limit: int = 500
) -> list[Event]:
    """Events of the actor's organisation after an id, oldest first."""
    with services.database.reading(actor.organisation_id) as work:
        return events.since(work, last_id, sight=sight_of(actor, types), limit=limit)


def newest_id(services: Services, actor: Actor) -> int:
    """Where a stream that asks for no replay begins."""
    with services.database.reading(actor.organisation_id) as work:
        return events.newest_id(work)


def newest_of(services: Services, actor: Actor, *types: str) -> int:
    """The id of the newest event of some types: what rests on them has not changed while it stays."""
    with services.database.reading(actor.organisation_id) as work:
        return events.newest_id(work, *types)


def history(services: Services, actor: Actor, subject: str, *, before: int | None = None) -> list[Event]:
    """What happened to one subject, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return events.about(work, subject, before=before, without=(CYLINDER_STATE,))
