"""Keyset paging: a page continues after the last id seen, so that rows that come and go shift nothing."""

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import sqlalchemy as sa

from service.store.work import Record, Work

T = TypeVar("T", bound=Record)

LARGEST_PAGE = 200


@dataclass(frozen=True, slots=True)
class PageRequest:
    """How many rows, and after which id; ``newest_first`` walks down."""

    limit: int = 50
    after: int | None = None


@dataclass(frozen=True, slots=True)
class Page(Generic[T]):
    """Some rows, and the id to continue after where there are more."""

    items: list[T]
    next: int | None


def fetch_page(
    work: Work,
    statement: sa.Select[Any],
    key: sa.ColumnElement[int],
    record: type[T],
    request: PageRequest,
    *,
    newest_first: bool = False,
) -> Page[T]:
    """
    One page of a statement ordered by a unique integer key, which the record carries as ``id``.

    Parameters
    ----------
    work
        The open transaction.
    statement
        Already scoped and filtered.
    key
        Column to order and continue by.
    record
        What rows become; has a field ``id``.
    request
        Limit and where to continue.
    newest_first
        Descending instead of ascending.

    Returns
    -------
    Page
        At most ``request.limit`` records.
    """
    if request.after is not None:
        statement = statement.where(key < request.after if newest_first else key > request.after)
    ordered = statement.order_by(key.desc() if newest_first else key).limit(request.limit + 1)
    rows = work.all(ordered, record)
    items = rows[: request.limit]
    more = len(rows) > request.limit
    return Page(items, getattr(items[-1], "id") if more else None)  # noqa: B009
