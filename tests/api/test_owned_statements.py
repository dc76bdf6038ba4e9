"""Every statement on an owned table names the owner; the few that may not are listed with their reasons."""

import re
from collections.abc import Callable

from flask import Flask
from flask.testing import FlaskClient

from service.operations.support.context import Services
from service.store.tables import metadata
from tests.support.http import api_operations, documented_path, examples, path_of
from tests.support.queries import recorded
from tests.support.story import NAMES, play

OWNED = {table.name for table in metadata.tables.values() if "organisation_id" in table.c}
BEFORE_THE_OWNER_IS_KNOWN = (
    re.compile(r"FROM tokens\s+WHERE tokens\.digest = "),
    re.compile(r"UPDATE tokens SET last_used_at=\S+ WHERE tokens\.id = "),
    re.compile(r"FROM people\s+WHERE people\.login = "),
)
"""A token and a login say who the owner is."""


def touched(statement: str) -> set[str]:
    """Tables that a statement reads or writes."""
    return set(re.findall(r"(?:FROM|JOIN|INTO|UPDATE)\s+(\w+)", statement)) & OWNED


def test_every_statement_of_every_route_names_the_owner(
    app: Flask, services: Services, client_as: Callable[..., FlaskClient]
) -> None:
    clients = [client_as("administrator"), client_as("worker")]
    documented = examples(app)
    with recorded(services.database.engine) as statements:
        play(app, clients)
        for method, rule in api_operations(app):
            if method in {"GET", "DELETE"} and rule.rule != "/api/v1/events":
                sent = documented[method, documented_path(rule)]
                clients[0].open(path_of(rule, **NAMES), method=method, **sent)
    assert len(statements) > 300
    loose = {
        statement
        for statement in statements
        if touched(statement)
        and "organisation_id" not in re.sub(r"SELECT.*?FROM", "FROM", statement, flags=re.DOTALL)
        and not any(allowed.search(statement) for allowed in BEFORE_THE_OWNER_IS_KNOWN)
    }
    assert loose == set()
