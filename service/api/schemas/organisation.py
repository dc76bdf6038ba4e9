"""Schemas for the organisation's settings."""

from dataclasses import dataclass

from service.api.http.answers import Answer
from service.api.http.fields import Among, Instant, Text
from service.api.http.strict import Strict
from service.cylinders.books import BOOKS
from service.operations.organisation import UNITS
from service.store.organisations import Organisation


@dataclass(frozen=True, slots=True)
class OrganisationChange:
    """What is to be otherwise; None stays."""

    time_zone: str | None = None
    units: str | None = None
    rule_book: str | None = None


class OrganisationChangeSchema(Strict):
    """What may be changed; what is left out stays."""

    into = OrganisationChange

    time_zone = Text(longest=64, metadata={"description": "IANA name, such as America/Denver"})
    units = Text(validate=Among(UNITS), metadata={"description": "of paper that states none"})
    rule_book = Text(
        validate=Among(tuple(BOOKS)), metadata={"description": "law of places without their own"}
    )


class OrganisationSchema(Answer):
    """An owner of cylinders."""

    of = Organisation

    name = Text(required=True)
    time_zone = Text(required=True)
    units = Text(required=True)
    rule_book = Text(required=True)
    created_at = Instant(required=True)
