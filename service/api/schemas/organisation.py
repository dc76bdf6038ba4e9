"""Schemas for the organisation's settings."""

import marshmallow as ma

from service.api.fields import Among, Instant, Text
from service.api.strict import Strict
from service.cylinders.books import BOOKS
from service.operations.organisation import UNITS


class OrganisationChangeSchema(Strict):
    """What may be changed; what is left out stays."""

    time_zone = Text(longest=64, metadata={"description": "IANA name, such as America/Denver"})
    units = Text(validate=Among(UNITS), metadata={"description": "of paper that states none"})
    rule_book = Text(
        validate=Among(tuple(BOOKS)), metadata={"description": "law of places without their own"}
    )


class OrganisationSchema(ma.Schema):
    """An owner of cylinders."""

    name = Text(required=True)
    time_zone = Text(required=True)
    units = Text(required=True)
    rule_book = Text(required=True)
    created_at = Instant(required=True)
