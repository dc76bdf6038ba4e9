"""Use cases for mappings: kept with every version, fetched by the worker, tried on a message before anybody relies."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from service.mappings.mapping import FaultyMapping, parse
from service.mappings.toml_text import documents
from service.mappings.trial import Trial, try_on
from service.operations import not_understood
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import (
    Conflict,
    FieldError,
    Invalid,
    NotFound,
    Reason,
    StaleVersion,
)
from service.operations.support.events import MAPPING_CHANGED
from service.store import mappings
from service.store.mappings import StoredMapping
from service.store.paging import Page, PageRequest
from service.store.work import Work

MOST_MAPPINGS = 200
"""So many are read by at a time: each message of a topic asks every mapping of it."""


@dataclass(frozen=True, slots=True)
class Shipped:
    """A mapping that is offered: the file it is from, and what it says."""

    file: str
    document: dict[str, Any]


@cache
def shipped() -> tuple[Shipped, ...]:
    """The mappings that come with the program, to begin from."""
    folder = files("service.mappings") / "shipped"
    found = sorted((one for one in folder.iterdir() if one.name.endswith(".toml")), key=lambda one: one.name)
    return tuple(
        Shipped(one.name, document)
        for one in found
        for document in documents(one.read_text(encoding="utf-8"))
    )


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[StoredMapping]:
    """Those that messages are read by."""
    with services.database.reading(actor.organisation_id) as work:
        return mappings.page(work, request)


def read(services: Services, actor: Actor, name: str) -> StoredMapping:
    """The newest version of one."""
    with services.database.reading(actor.organisation_id) as work:
        return _known(work, name)


def versions(services: Services, actor: Actor, name: str, request: PageRequest) -> Page[StoredMapping]:
    """Every version of one, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        if mappings.by_name(work, name) is None:
            raise NotFound("mapping", name)
        return mappings.versions(work, name, request)


def save(
    services: Services,
    actor: Actor,
    document: dict[str, Any],
    fresh: Callable[[int], bool] = lambda _version: True,
) -> StoredMapping:
    """
    Keep a mapping, new or the next version of one; the worker reads by it with its next poll.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    document
        The fields of one ``[[mapping]]``.
    fresh
        Whether the version that stands is the one that was changed; not asked where none stands.

    Raises
    ------
    Invalid
        When it is faulty.
    StaleVersion
        When somebody changed it since.
    Conflict
        When there are too many.
    """
    name = checked(document)
    with services.database.writing(actor.organisation_id) as work:
        known = mappings.by_name(work, name)
        there = known is not None and known.document is not None
        if known is not None and there and not fresh(known.version):
            raise StaleVersion("mapping", name)
        if known is not None and known.document == document:
            return known
        if not there and len(mappings.page(work, PageRequest(MOST_MAPPINGS)).items) >= MOST_MAPPINGS:
            text = f"{MOST_MAPPINGS} mappings are kept; withdraw one that no gateway needs."
            raise Conflict([Reason("too-many-mappings", text)])
        not_understood.forget_read(work, parse(document))
        return _keep(services, work, actor, name, known, document)


def withdraw(services: Services, actor: Actor, name: str) -> None:
    """Read no message by it any more; its versions stay."""
    with services.database.writing(actor.organisation_id) as work:
        _keep(services, work, actor, name, _known(work, name), None)


def checked(document: object) -> str:
    """The name of a sound mapping; raises Invalid with the first fault."""
    try:
        return parse(document).name
    except FaultyMapping as fault:
        raise Invalid(FieldError(fault.field, fault.value, fault.expected)) from None


def trial(document: object, topic: str, message: object, now_s: float) -> Trial:
    """What a mapping makes of a message; raises Invalid for a faulty mapping."""
    checked(document)
    return try_on(parse(document), topic, message, now_s)


def offers(topic: str, message: object, now_s: float) -> Sequence[tuple[Shipped, Trial]]:
    """The shipped mappings that read a message as it is, with what they make of it."""
    tried = [(one, try_on(parse(one.document), topic, message, now_s)) for one in shipped()]
    return [(one, found) for one, found in tried if found.readings]


def _known(work: Work, name: str) -> StoredMapping:
    known = mappings.by_name(work, name)
    if known is None or known.document is None:
        raise NotFound("mapping", name)
    return known


def _keep(
    services: Services,
    work: Work,
    actor: Actor,
    name: str,
    known: StoredMapping | None,
    document: dict[str, Any] | None,
) -> StoredMapping:
    at, version = services.now(), 1 if known is None else known.version + 1
    kept = mappings.insert(work, name=name, version=version, document=document, at=at, by=actor.name)
    verb = "withdrawn" if document is None else "saved"
    tell(work, actor, at, MAPPING_CHANGED, f"mappings/{name}", {"change": verb, "version": version})
    return kept
