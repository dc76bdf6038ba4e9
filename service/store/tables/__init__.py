"""Every table, one module a noun; import them all so that the metadata is whole."""

from service.store.tables.alarms import alarms
from service.store.tables.analyses import analyses
from service.store.tables.appliances import appliance_works, appliances
from service.store.tables.base import metadata
from service.store.tables.care import care
from service.store.tables.credentials import device_credentials
from service.store.tables.custody import custody
from service.store.tables.cylinders import cylinders, epochs
from service.store.tables.devices import devices
from service.store.tables.drafts import drafts
from service.store.tables.events import events
from service.store.tables.exchanges import exchanges
from service.store.tables.heartbeats import heartbeats
from service.store.tables.holds import holds
from service.store.tables.hookups import hookups
from service.store.tables.idempotency import idempotency
from service.store.tables.identities import identities, identity_providers
from service.store.tables.idle_runs import idle_runs
from service.store.tables.instructions import instructions
from service.store.tables.instruments import instrument_checks, instrument_errors
from service.store.tables.live import live, trace
from service.store.tables.mappings import mappings
from service.store.tables.messages import messages
from service.store.tables.not_understood import not_understood
from service.store.tables.organisations import organisations
from service.store.tables.pairs import pairs
from service.store.tables.people import people
from service.store.tables.places import places
from service.store.tables.prices import prices
from service.store.tables.reclaimers import acceptances, reclaimers
from service.store.tables.recoveries import recoveries, recovery_fills
from service.store.tables.rejudgements import rejudgements
from service.store.tables.releases import releases
from service.store.tables.sessions import sessions
from service.store.tables.summaries import summaries
from service.store.tables.tokens import tokens
from service.store.tables.transfers import transfers
from service.store.tables.verdicts import verdicts
from service.store.tables.webhooks import webhook_attempts, webhook_cursors, webhooks

__all__ = [
    "acceptances",
    "alarms",
    "analyses",
    "appliance_works",
    "appliances",
    "care",
    "custody",
    "cylinders",
    "device_credentials",
    "devices",
    "drafts",
    "epochs",
    "events",
    "exchanges",
    "heartbeats",
    "holds",
    "hookups",
    "idempotency",
    "identities",
    "identity_providers",
    "idle_runs",
    "instructions",
    "instrument_checks",
    "instrument_errors",
    "live",
    "mappings",
    "messages",
    "metadata",
    "not_understood",
    "organisations",
    "pairs",
    "people",
    "places",
    "prices",
    "reclaimers",
    "recoveries",
    "recovery_fills",
    "rejudgements",
    "releases",
    "sessions",
    "summaries",
    "tokens",
    "trace",
    "transfers",
    "verdicts",
    "webhook_attempts",
    "webhook_cursors",
    "webhooks",
]
