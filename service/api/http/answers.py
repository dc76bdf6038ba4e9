"""Answers are written by their schema from a typed value: a field names an attribute, and a test that there is one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, TypeVar

import marshmallow as ma

from service.api.http.fields import Text
from service.api.http.quantities import Quantity
from service.store.paging import Page
from service.store.work import Record

T = TypeVar("T")
R = TypeVar("R", bound=Record)


class Answer(ma.Schema):
    """An answer; what it promises and does not find is a fault of ours, not an answer without it."""

    of: ClassVar[type]
    """What it is written from; fields name its attributes, deeper ones with dots."""
    inside: ClassVar[str | None] = None
    """Attribute of ``of`` that has what ``of`` itself has not."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.promised = {field.data_key or name for name, field in self.dump_fields.items() if field.required}
        for name, field in self.dump_fields.items():
            field.attribute = self.path(source_of(name, field))

    @classmethod
    def path(cls, attribute: str) -> str:
        """Where an attribute is, seen from ``of``."""
        is_here = cls.inside is None or hasattr(cls.of, attribute.partition(".")[0])
        return attribute if is_here else f"{cls.inside}.{attribute}"

    @ma.post_dump
    def whole(self, data: Mapping[str, object], **_: object) -> Mapping[str, object]:
        """Refuse to leave out what the document promises."""
        if not self.promised <= data.keys():
            raise LookupError(f"{type(self).__name__} lacks {', '.join(sorted(self.promised - data.keys()))}")
        return data


class Sparse(Answer):
    """An answer that leaves out what there is not, where the document promises nothing."""

    @ma.post_dump
    def only_what_there_is(self, data: Mapping[str, object], **_: object) -> Mapping[str, object]:
        """Leave out what is null and was not promised."""
        return {name: value for name, value in data.items() if value is not None or name in self.promised}


class Itself(ma.fields.Nested):
    """A nested answer that is written from the same value as what it is in."""

    def get_value(self, obj: Any, *_: Any, **__: Any) -> Any:
        """The value itself."""
        return obj


def source_of(name: str, field: ma.fields.Field[Any]) -> str:
    """The attribute that a field is written from; both units of a quantity are written from one."""
    return field.of if isinstance(field, Quantity) else field.attribute or name


@dataclass(frozen=True, slots=True)
class Listed(Generic[T]):
    """Some of a list, and what ``after`` has to be to go on; None at its end."""

    items: Sequence[T]
    next: str | None = None


def page_of(item: type[ma.Schema]) -> type[ma.Schema]:
    """The schema of a list of these items."""
    name = item.__name__.removesuffix("Schema") + "Page"
    fields = {
        "of": Listed,
        "items": ma.fields.List(ma.fields.Nested(item), required=True),
        "next": Text(required=True, allow_none=True),
    }
    return type(name, (Answer,), fields)


def answer(page: Page[R], shown: Callable[[R], T]) -> Listed[T]:
    """A page as its schema expects it, each row as what ``shown`` makes of it."""
    return Listed([shown(row) for row in page.items], following(page))


def rows(page: Page[R]) -> Listed[R]:
    """A page of rows that are shown as they are."""
    return Listed(page.items, following(page))


def following(page: Page[R]) -> str | None:
    """What ``after`` has to be for the next page."""
    return None if page.next is None else str(page.next)
