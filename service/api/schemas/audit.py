"""Schemas for the audit log."""

import marshmallow as ma

from service.api.fields import Instant, Text, Whole
from service.api.paging import PageArgs


class AuditArgs(PageArgs):
    """Query of the audit log."""

    actor = Text(
        load_default=None, longest=120, metadata={"description": "such as person:rosa or token:fleet"}
    )
    subject = Text(load_default=None, longest=160, metadata={"description": "such as cylinders/HM-0001"})
    type = Text(load_default=None, longest=64)
    start = Instant(load_default=None, data_key="from")
    end = Instant(load_default=None, data_key="to")


class EntrySchema(ma.Schema):
    """Who did what to what, and when."""

    id = Whole(required=True)
    at = Instant(required=True)
    actor = Text(required=True)
    type = Text(required=True)
    subject = Text(required=True)
    data = ma.fields.Dict(required=True)
