"""Schemas for the broker users of devices."""

import marshmallow as ma

from service.api.fields import Instant, Text, Whole
from service.api.paging import PageArgs
from service.api.schemas.common import device_name, place_name
from service.api.strict import Strict


class CredentialArgs(PageArgs):
    """Query of the list of credentials."""

    device = device_name(load_default=None)


class NewCredentialSchema(Strict):
    """A credential to issue."""

    device = device_name(
        load_default=None,
        allow_none=True,
        metadata={
            "description": "As in the topic; without one, a gateway that publishes for its whole place."
        },
    )
    place = place_name(required=True)


class CredentialSchema(ma.Schema):
    """A broker user without its password."""

    id = Whole(required=True)
    device = Text(required=True, allow_none=True)
    place = Text(required=True)
    username = Text(required=True)
    issued_at = Instant(required=True)
    issued_by = Text(required=True)
    revoked_at = Instant(required=True, allow_none=True)
    revoked_by = Text(required=True, allow_none=True)


class CredentialWithPasswordSchema(CredentialSchema):
    """A broker user with its password, which is told this once."""

    password = Text(required=True)
