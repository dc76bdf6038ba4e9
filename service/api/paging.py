"""Keyset paging over HTTP: ``limit`` and ``after`` in, ``items`` and ``next`` out."""

from collections.abc import Callable
from typing import Any, TypeVar

import marshmallow as ma

from service.api.fields import LARGEST_ID, QueryWhole, Text, Within
from service.api.strict import Strict
from service.store.paging import LARGEST_PAGE, Page, PageRequest
from service.store.work import Record

T = TypeVar("T", bound=Record)


class PageArgs(Strict):
    """Query of every list."""

    limit = QueryWhole(load_default=50, validate=Within(1, LARGEST_PAGE))
    after = QueryWhole(
        load_default=None,
        validate=Within(0, LARGEST_ID),
        metadata={"description": "`next` of the page before."},
    )


def request_of(args: dict[str, Any]) -> PageRequest:
    """Take the paging out of a query's arguments."""
    return PageRequest(args.pop("limit"), args.pop("after"))


def page_of(item: type[ma.Schema]) -> type[ma.Schema]:
    """The schema of a list of these items."""
    name = item.__name__.removesuffix("Schema") + "Page"
    fields = {
        "items": ma.fields.List(ma.fields.Nested(item), required=True),
        "next": Text(required=True, allow_none=True),
    }
    return type(name, (ma.Schema,), fields)


def answer(page: Page[T], encode: Callable[[T], dict[str, Any]]) -> dict[str, Any]:
    """A page as its schema expects it."""
    return {
        "items": [encode(item) for item in page.items],
        "next": None if page.next is None else str(page.next),
    }
