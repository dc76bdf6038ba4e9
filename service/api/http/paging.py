"""Keyset paging over HTTP: ``limit`` and ``after`` in, ``items`` and ``next`` out."""

from dataclasses import dataclass
from typing import ClassVar

from service.api.http.fields import LARGEST_ID, QueryWhole, Within
from service.api.http.strict import Strict
from service.store.paging import LARGEST_PAGE, PageRequest


@dataclass(frozen=True, slots=True)
class Paged:
    """Query of every list."""

    limit: int
    after: int | None

    @property
    def page(self) -> PageRequest:
        """Which page is asked for."""
        return PageRequest(self.limit, self.after)


@dataclass(frozen=True, slots=True)
class OfCylinder(Paged):
    """The same, of one cylinder on request."""

    cylinder: str | None


class PageArgs(Strict):
    """Query of every list."""

    into: ClassVar[type] = Paged

    limit = QueryWhole(load_default=50, validate=Within(1, LARGEST_PAGE))
    after = QueryWhole(
        load_default=None,
        validate=Within(0, LARGEST_ID),
        metadata={"description": "`next` of the page before."},
    )
