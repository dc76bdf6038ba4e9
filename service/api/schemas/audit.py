"""Schemas for the audit log."""

from dataclasses import dataclass
from datetime import datetime

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Instant, Text, Whole
from service.api.http.paging import PageArgs, Paged
from service.store.events import Event


@dataclass(frozen=True, slots=True)
class AuditQuery(Paged):
    """Which entries to list."""

    actor: str | None
    subject: str | None
    type: str | None
    start: datetime | None
    end: datetime | None


class AuditArgs(PageArgs):
    """Query of the audit log."""

    into = AuditQuery

    actor = Text(
        load_default=None, longest=120, metadata={"description": "such as person:rosa or token:fleet"}
    )
    subject = Text(load_default=None, longest=160, metadata={"description": "such as cylinders/HM-0001"})
    type = Text(load_default=None, longest=64)
    start = Instant(load_default=None, data_key="from")
    end = Instant(load_default=None, data_key="to")


class EntrySchema(Answer):
    """Who did what to what, and when."""

    of = Event

    id = Whole(required=True)
    at = Instant(required=True)
    actor = Text(required=True)
    type = Text(required=True)
    subject = Text(required=True)
    data = ma.fields.Dict(required=True)
