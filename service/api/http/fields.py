"""Strict fields: a number is a number, text is text, and every refusal tells value and expectation."""

import math
import re
from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any, NoReturn

import marshmallow as ma
from marshmallow import validate

from service.api.http.json_types import JsonObject

CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
LARGEST_ID = 2**63 - 1


def listed(values: Iterable[object], *, or_null: bool = False, **told: str) -> JsonObject:
    """Metadata of an answer's field whose values are a closed vocabulary."""
    return {"enum": [*map(str, values), *([None] if or_null else [])], **told}


def refuse(value: Any, expected: str) -> NoReturn:
    """Refuse a value, as one entry of a validation problem."""
    plain = isinstance(value, int | type(None)) or (isinstance(value, float) and math.isfinite(value))
    shown = value if plain else CONTROL.sub("\ufffd", str(value)[:200])
    raise ma.ValidationError({"value": shown, "expected": expected})


class Within(validate.Range):
    """A range that tells the value it refuses."""

    def __call__(self, value: Any) -> Any:
        """Check one value."""
        try:
            return super().__call__(value)
        except ma.ValidationError:
            refuse(value, self.expected)

    @property
    def expected(self) -> str:
        """The range in words."""
        low = None if self.min is None else f"{'at least' if self.min_inclusive else 'above'} {self.min:g}"
        high = None if self.max is None else f"{'at most' if self.max_inclusive else 'below'} {self.max:g}"
        return " and ".join(part for part in (low, high) if part)


class Matches(validate.Regexp):
    """A pattern that tells the value it refuses."""

    def __init__(self, pattern: str, expected: str) -> None:
        super().__init__(pattern)
        self.expected = expected

    def __call__(self, value: Any) -> Any:
        """Check one value."""
        if self.regex.fullmatch(value) is None:
            refuse(value, self.expected)
        return value


class Among(validate.OneOf):
    """A choice that tells the value it refuses."""

    def __call__(self, value: Any) -> Any:
        """Check one value."""
        if value not in self.choices:
            refuse(value, "one of " + ", ".join(map(str, self.choices)))
        return value


class Number(ma.fields.Float):
    """A JSON number; strings, booleans, NaN and infinity are refused."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            refuse(value, "a number")
        try:
            number = float(value)
        except OverflowError:
            refuse(str(value)[:40], "a number")
        if not math.isfinite(number):
            refuse(value, "a finite number")
        return number

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        return None if value is None else round(float(value), 9)


class QueryNumber(Number):
    """A number in a query string, where everything is text."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        try:
            return super()._deserialize(float(value), attr, data, **kwargs)
        except (TypeError, ValueError):
            refuse(value, "a finite number")


class Whole(ma.fields.Integer):
    """A JSON integer; nothing is rounded."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            refuse(value, "a whole number")
        if abs(value) > LARGEST_ID:
            refuse(str(value)[:40], "a smaller whole number")
        return value


class QueryWhole(Whole):
    """An integer in a query string."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        if not isinstance(value, str) or re.fullmatch(r"-?[0-9]{1,19}", value) is None:
            refuse(value, "a whole number")
        return super()._deserialize(int(value), attr, data, **kwargs)


class Truth(ma.fields.Boolean):
    """``true`` or ``false``, in JSON as such, in a query as text."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> bool:
        if (value in (True, "true") and not isinstance(value, int | float)) or value is True:
            return True
        if (value in (False, "false") and not isinstance(value, int | float)) or value is False:
            return False
        refuse(value, "true or false")


class Text(ma.fields.String):
    """Text without control characters, of a stated greatest length."""

    def __init__(self, *, longest: int = 200, shortest: int = 1, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.longest, self.shortest = longest, shortest
        self.metadata = {"minLength": shortest, "maxLength": longest, **self.metadata}

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str):
            refuse(value, "text")
        if CONTROL.search(value):
            refuse(value, "text without control characters")
        if not self.shortest <= len(value) <= self.longest:
            refuse(value, f"{self.shortest} to {self.longest} characters")
        return value


class Day(ma.fields.Date):
    """A day of the calendar, such as 2026-05-04."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> date:
        try:
            return date.fromisoformat(value)
        except (TypeError, ValueError):
            refuse(value, "a day of the calendar such as 2026-05-04")


class Instant(ma.fields.AwareDateTime):
    """A moment by RFC 3339, with its offset."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="iso", **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> datetime:
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError):
            refuse(value, "a time by RFC 3339, such as 2026-05-04T13:30:00Z")
        if moment.tzinfo is None:
            refuse(value, "a time with its offset, such as 2026-05-04T13:30:00Z")
        try:
            return moment.astimezone(UTC)
        except OverflowError:
            refuse(value, "a time within the calendar")

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value is None else value.astimezone(UTC).isoformat().replace("+00:00", "Z")
