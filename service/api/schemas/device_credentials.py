"""Schemas for the broker users of devices."""

from dataclasses import dataclass
from typing import Any, ClassVar

from service.api.http.answers import Answer
from service.api.http.fields import Instant, Text, Whole
from service.api.http.paging import PageArgs, Paged
from service.api.http.strict import Strict
from service.api.schemas.common import device_name, place_name
from service.operations.device_credentials import WithPassword
from service.outbound.broker_access import ANY_DEVICE
from service.store.credentials import Credential


@dataclass(frozen=True, slots=True)
class CredentialQuery(Paged):
    """Which credentials to list."""

    device: str | None


class CredentialArgs(PageArgs):
    """Query of the list of credentials."""

    into = CredentialQuery

    device = device_name(load_default=None)


@dataclass(frozen=True, slots=True)
class NewCredential:
    """A credential to issue."""

    device: str | None
    place: str


class NewCredentialSchema(Strict):
    """A credential to issue."""

    into = NewCredential

    device = device_name(
        load_default=None,
        allow_none=True,
        metadata={
            "description": "As in the topic; without one, a gateway that publishes for its whole place."
        },
    )
    place = place_name(required=True)


class OnlyDevice(Text):
    """The device of a credential; a gateway's has none."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value == ANY_DEVICE else super()._serialize(value, attr, obj, **kwargs)


class CredentialSchema(Answer):
    """A broker user without its password."""

    of: ClassVar[type] = Credential

    id = Whole(required=True)
    device = OnlyDevice(required=True, allow_none=True)
    place = Text(required=True)
    username = Text(required=True)
    issued_at = Instant(required=True)
    issued_by = Text(required=True)
    revoked_at = Instant(required=True, allow_none=True)
    revoked_by = Text(required=True, allow_none=True)


class CredentialWithPasswordSchema(CredentialSchema):
    """A broker user with its password, which is told this once."""

    of = WithPassword
    inside = "credential"

    password = Text(required=True)
