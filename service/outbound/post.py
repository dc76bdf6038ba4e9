"""Write, sign and send one event to one subscription: what signing, cloudevents and sender add up to."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.outbound.backoff import Backoff
from service.outbound.cloudevents import CloudEvent, ContentMode, message
from service.outbound.secret_encryption import Seal
from service.outbound.sender import Outcome, Sender
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
        self, url: str, sealed_secrets: Sequence[str], mode: ContentMode, event: CloudEvent, at: datetime
    ) -> Outcome:
        """One attempt; the message's id is the event's, the same in every attempt."""
        headers, body = message(event, mode)
        secrets = [self.seal.open(sealed) for sealed in sealed_secrets]
        signed = signed_headers(secrets, event.id, at, body)
        return self.sender.send(url, {**headers, **signed}, body)
