"""Write, sign and send events to one subscription: what signing, cloudevents and sender add up to."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.outbound.backoff import Backoff
from service.outbound.cloudevents import CloudEvent, ContentMode, message, message_id
from service.outbound.secret_encryption import Seal
from service.outbound.sender import Line, Outcome, Sender
from service.outbound.signing import signed_headers


@dataclass(frozen=True, slots=True)
class Post:
    """
    Everything that leaves for other systems leaves through here.

    Parameters
    ----------
    sender
        The edge to the network.
    seal
        Opens the secrets that receivers check signatures with.
    backoff
        When to try again and when to give up.
    source
        The installation's own URL; part of every event's identity.
    """

    sender: Sender
    seal: Seal
    backoff: Backoff
    source: str

    def send(
        self,
        url: str,
        sealed_secrets: Sequence[str],
        mode: ContentMode,
        events: Sequence[CloudEvent],
        at: datetime,
        line: Line | None = None,
    ) -> Outcome:
        """One attempt, on a kept line or on a connection of its own; an event's id is the same in every attempt."""
        headers, body = message(events, mode)
        secrets = [self.seal.open(sealed) for sealed in sealed_secrets]
        signed = signed_headers(secrets, message_id(events), at, body)
        return (line or self.sender).send(url, {**headers, **signed}, body)
