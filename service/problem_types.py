"""Every type of problem that an answer can name: what it means and what to do. ``/problems/{slug}`` tells it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class ProblemType:
    """
    One type of problem (RFC 9457).

    Parameters
    ----------
    slug
        Last part of ``type``; stable, so that clients may decide by it.
    statuses
        HTTP statuses that it comes with.
    meaning
        What went wrong, in a sentence.
    remedy
        What whoever asked does next.
    retry
        Whether the very same request may succeed later.
    """

    slug: str
    statuses: tuple[int, ...]
    meaning: str
    remedy: str
    retry: bool = False

    @property
    def uri(self) -> str:
        """What ``type`` says."""
        return f"/problems/{self.slug}"


_ALL: Final = (
    ProblemType(
        "malformed",
        (400,),
        "The request cannot be read: the body is no JSON, is nested too deeply, or a header is broken.",
        "Mend what sends it; the detail says what could not be read.",
    ),
    ProblemType(
        "refused",
        (400,),
        "The use case refused for a reason that has no type of its own.",
        "Read the detail; it names what was not as expected.",
    ),
    ProblemType(
        "unauthorized",
        (401,),
        "The bearer token is missing, unknown, expired or revoked.",
        "Send a valid token as Authorization: Bearer. An administrator makes one with POST /api/v1/tokens.",
    ),
    ProblemType(
        "forbidden",
        (403,),
        "The token or the person is known, and may not do this.",
        "Ask an administrator for a token of another scope, or of further places.",
    ),
    ProblemType(
        "not-found",
        (404,),
        "There is no such thing, or it is not among what this token may see.",
        "Check the name or id. An answer never tells whether somebody else has it.",
    ),
    ProblemType(
        "method-not-allowed",
        (405,),
        "The address is right, and has no such method.",
        "Use one of the methods in the Allow header.",
    ),
    ProblemType(
        "conflict",
        (409,),
        "The state of things or a rule does not allow it; reasons has the code, text and source of each.",
        "Do what the reasons ask for. Where a reason may be overridden, send the override with who vouches for it.",
    ),
    ProblemType(
        "stale",
        (412,),
        "Somebody changed it since it was read; nothing was written.",
        "Read it again, decide again, and send the new ETag as If-Match.",
    ),
    ProblemType(
        "too-large",
        (413,),
        "The body is longer than the service takes.",
        "Send less at once, or use an import, which is read line by line.",
    ),
    ProblemType(
        "unsupported-media-type",
        (415,),
        "The body is of a media type that this call does not take.",
        "Send one of the media types that the OpenAPI document names for the call.",
    ),
    ProblemType(
        "validation",
        (422,),
        "Fields are at fault; errors has the field, value and expectation of each.",
        "Mend the fields named. The same request will be refused again.",
    ),
    ProblemType(
        "idempotency-key-reused",
        (422,),
        "The Idempotency-Key came before, with another request.",
        "Use a new key for a new request, and the same key for the same request only.",
    ),
    ProblemType(
        "out-of-range",
        (422,),
        "A curve was asked for beyond the temperatures or pressures that it is known for.",
        "Stay within the range that the detail names.",
    ),
    ProblemType(
        "precondition-required",
        (428,),
        "An update came without If-Match, and could undo what somebody else did.",
        "Read the thing first and send its ETag as If-Match.",
    ),
    ProblemType(
        "too-many-requests",
        (429,),
        "The limit of requests of this token, or of failures of this address, is reached.",
        "Wait for as many seconds as Retry-After says.",
        retry=True,
    ),
    ProblemType(
        "too-many-streams",
        (429,),
        "This caller has all the event streams open that one caller may have.",
        "Close one, or use the one that is open; GET /api/v1/event-log has the same events as pages.",
        retry=True,
    ),
    ProblemType(
        "unavailable",
        (503,),
        "Something that is needed cannot be used now, such as the database; nothing was kept.",
        "Send the same again after as many seconds as Retry-After says.",
        retry=True,
    ),
    ProblemType(
        "streams-full",
        (503,),
        "All event streams of this process are taken.",
        "Try again after as many seconds as Retry-After says; GET /api/v1/event-log has the same events.",
        retry=True,
    ),
    ProblemType(
        "internal",
        (500,),
        "The service failed; the fault is its own.",
        "Tell the operator the X-Request-ID of the answer: it finds the cause in the log.",
        retry=True,
    ),
    ProblemType(
        "error",
        (406, 408, 411, 414, 416, 417, 431, 501, 505),
        "The server refused the request before any use case saw it.",
        "Read the status and the detail.",
    ),
)

PROBLEM_TYPES: Final[Mapping[str, ProblemType]] = {one.slug: one for one in _ALL}
"""By slug: a closed vocabulary, to which types may be added."""
