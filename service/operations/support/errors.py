"""
Why a use case refuses; the API turns each into one problem type, the board into one sentence.

OperationError
├── NotFound            the organisation has no such thing
├── Invalid             fields at fault, each with value and expectation
├── Conflict            the state of things does not allow it; every reason
├── StaleVersion        somebody changed it since it was read
├── NotAllowed          this actor may not
├── KeyReused           an idempotency key came with another request
└── Unavailable         not now; the same may be tried again
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.exc import DataError

ODD = (ArithmeticError, LookupError, TypeError, ValueError, DataError)
"""What one item's own oddity raises, whether in our code or in the database; a database that is away is not odd."""


class OperationError(Exception):
    """A use case refused; nothing was changed."""


class NotFound(OperationError):
    """The organisation has no such thing."""

    def __init__(self, noun: str, key: object) -> None:
        super().__init__(f"There is no {noun} {key}.")
        self.noun = noun
        self.key = key


@dataclass(frozen=True, slots=True)
class FieldError:
    """One field at fault."""

    field: str
    value: Any
    expected: str
    relation: str = ""
    bound_kg: float | None = None
    """Where a mass is at fault for another mass: how it must stand to it; the board writes the person's unit."""

    @classmethod
    def mass(cls, field: str, value_kg: float, relation: str, bound_kg: float) -> "FieldError":
        """Say that a mass [kg] stands in the wrong relation, such as "at least the tare", to another."""
        return cls(field, value_kg, f"{relation}, {bound_kg:.3f} kg", relation, bound_kg)


class Invalid(OperationError):
    """Fields are at fault, each with its value and what was expected."""

    def __init__(self, *errors: FieldError) -> None:
        super().__init__("; ".join(f"{e.field}: {e.value!r}, expected {e.expected}" for e in errors))
        self.errors = errors


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule that was broken, in words, with what it rests on."""

    code: str
    text: str
    source: str | None = None
    detail: str | None = None
    edition: str | None = None
    mark: str | None = None
    may_override: bool = False


class Conflict(OperationError):
    """The state of things does not allow it; every reason is told."""

    def __init__(self, reasons: Sequence[Reason]) -> None:
        super().__init__(" ".join(reason.text for reason in reasons))
        self.reasons = tuple(reasons)


class StaleVersion(OperationError):
    """Somebody changed it since it was read."""

    def __init__(self, noun: str, key: object) -> None:
        super().__init__(f"The {noun} {key} was changed since it was read; read it again.")


class NotAllowed(OperationError):
    """The actor may not do that."""


class KeyReused(OperationError):
    """An idempotency key came back with another request than the first time."""

    def __init__(self, key: str) -> None:
        super().__init__(f"Idempotency-Key {key!r} was used for another request.")


class Unavailable(OperationError):
    """It cannot be done now; the same may be tried again after a while."""

    def __init__(self, text: str, retry_after_s: int) -> None:
        super().__init__(text)
        self.retry_after_s = retry_after_s
