"""Everything of one organisation, table by table in the order of ids; secrets stay inside."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.store.tables import metadata
from service.store.work import Work

TABLES = (
    "places",
    "people",
    "cylinders",
    "epochs",
    "devices",
    "hookups",
    "pairs",
    "verdicts",
    "transfers",
    "holds",
    "instructions",
    "releases",
    "exchanges",
    "care",
    "reclaimers",
    "acceptances",
    "appliances",
    "appliance_works",
    "custody",
    "recoveries",
    "recovery_fills",
    "prices",
    "instrument_checks",
    "instrument_errors",
    "analyses",
    "mappings",
    "alarms",
    "live",
    "trace",
    "webhooks",
    "tokens",
    "device_credentials",
    "events",
)
"""In an order in which a reader knows what a row refers to."""
LEFT_OUT = {
    "organisations": "the owner itself; its id is in every row",
    "drafts": "unfinished forms, dropped after a month",
    "heartbeats": "of processes, not of an owner",
    "messages": "readings that the worker has not fetched yet, a matter of seconds",
    "not_understood": "messages that could not be read, kept for the moment",
    "idempotency": "answers already given, without meaning elsewhere",
    "idle_runs": "how a device on no cylinder reads just now; what comes of it is a check",
    "identities": "sign-in with another provider",
    "identity_providers": "holds a sealed secret",
    "rejudgements": "what waits to be judged again, empty within minutes",
    "sessions": "who is signed in, without meaning elsewhere",
    "summaries": "what the judgement said, made again from the rest",
    "webhook_attempts": "a log of deliveries, pruned",
    "webhook_cursors": "where delivery stands",
}
SECRET = {"password_hash", "digest", "sealed_secret", "sealed_previous_secret", "session_epoch"}
BATCH = 500


def rows_after(work: Work, table_name: str, after: int) -> Iterator[dict[str, Any]]:
    """The next rows of a table, at most ``BATCH``, as JSON can hold them."""
    table = metadata.tables[table_name]
    columns = [column for column in table.c if column.name not in SECRET]
    statement = work.select(table, *columns).where(table.c.id > after).order_by(table.c.id).limit(BATCH)
    for row in work.connection.execute(statement).mappings():
        yield {name: _plain(value) for name, value in row.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat().replace("+00:00", "Z")
    return float(value) if isinstance(value, Decimal) else value
