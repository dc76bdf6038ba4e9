"""What the verdict refuses to work with."""

from __future__ import annotations


class VerdictError(ValueError):
    """Root of the verdict's errors."""


class InvalidEvidence(VerdictError):
    """A value no verdict can be built on; names the field, the value and what was expected."""

    def __init__(self, field: str, value: object, expected: str) -> None:
        super().__init__(f"{field}: got {value!r}, expected {expected}")
        self.field = field
        self.value = value
        self.expected = expected
