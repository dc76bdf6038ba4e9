"""
``python -m tests.support.property_examples``: collect an example of each property from what the service answers.

Plays every example of the document against the service with its own verdict engine, reads everything back, and writes
the first value of each property that is not empty to ``service/api/http/data/examples.json``. What no answer has an
example of is written by hand in ``properties.csv``.
"""

import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from service.app import create_app
from service.operations import cylinders, tokens
from service.operations.support.context import Actor, Services
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.conftest import make_owner
from tests.support import databases
from tests.support.clock import Clock
from tests.support.http import api_operations, documented_path, examples, path_of
from tests.support.story import NAMES, play

TARGET = Path("service/api/http/data/examples.json")
EMPTY: tuple[object, ...] = (None, [], {}, "")
LONGEST = 200
SECRETS = {"secret", "password"}
"""Never written down, whatever they open; their examples are by hand."""


def main() -> None:
    """Write the file."""
    with tempfile.TemporaryDirectory() as folder:
        found = collected(Path(folder))
    text = json.dumps(dict(sorted(found.items())), indent=1, ensure_ascii=False)
    TARGET.write_text(text + "\n", encoding="utf-8")
    print(f"{len(found)} examples")


def collected(folder: Path) -> dict[str, Any]:
    """Examples by ``Schema.property``."""
    settings = Settings(
        data=folder, database_url="sqlite://", secret_key="s" * 40, request_limit="1000000 per second"
    )
    services = wire(settings, database=Database(databases.fresh_sqlite(folder)), now=Clock())
    owner, app = make_owner(services), create_app(settings, services)
    clients = [client(app.test_client(), services, owner, scope) for scope in ("administrator", "worker")]
    cylinders.register(services, owner, "HM-0002", {"place": "shop"})
    play(app, clients)
    document = app.test_client().get("/api/v1/openapi.json").get_json()
    documented, found = examples(app), {}
    for method, rule in api_operations(app):
        path = documented_path(rule)
        if rule.rule == "/api/v1/events" or method == "DELETE":
            continue
        operation = document["paths"][path][method.lower()]
        sent = documented[method, path]
        content = operation.get("requestBody", {}).get("content", {}).get("application/json")
        if content and "json" in sent:
            keep(found, document, content["schema"], sent["json"])
        for one in clients:
            answer = one.open(path_of(rule, **NAMES), method=method, headers={"If-Match": '"1"'}, **sent)
            told = operation["responses"].get(str(answer.status_code), {}).get("content", {})
            if answer.is_json and "application/json" in told:
                keep(found, document, told["application/json"]["schema"], answer.get_json())
    services.database.dispose()
    return found


def client(made: FlaskClient, services: Services, owner: Actor, scope: str) -> FlaskClient:
    """With a token of a scope."""
    secret = tokens.create(services, owner, name=f"{scope} of the shop", scope=scope).secret
    made.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    return made


def keep(found: dict[str, Any], document: dict[str, Any], schema: dict[str, Any], value: Any) -> None:
    """Walk a value beside its schema, and keep what is an example of a property that has none yet."""
    for name, properties, members in objects(document, schema, value):
        for key, member in members.items():
            full = f"{name}.{key}"
            short = len(json.dumps(member)) <= LONGEST and key not in SECRETS
            if key in properties and member not in EMPTY and short and full not in found:
                found[full] = member


Object = tuple[str, dict[str, Any], dict[str, Any]]


def objects(document: dict[str, Any], schema: dict[str, Any], value: Any) -> Iterator[Object]:
    """Every object in a value that is of a named schema: the name, its properties, its members."""
    for one in (schema, *schema.get("anyOf", ()), *schema.get("oneOf", ()), *schema.get("allOf", ())):
        if isinstance(value, list):
            for member in value:
                yield from objects(document, one.get("items", {}), member)
        elif isinstance(value, dict):
            yield from _members(document, one, value)


def _members(document: dict[str, Any], schema: dict[str, Any], value: dict[str, Any]) -> Iterator[Object]:
    name = schema.get("$ref", "").rpartition("/")[2]
    if name:
        properties = document["components"]["schemas"][name].get("properties", {})
        yield name, properties, value
        for key in properties.keys() & value.keys():
            yield from objects(document, properties[key], value[key])
    extra = schema.get("additionalProperties")
    for member in value.values() if isinstance(extra, dict) else ():
        yield from objects(document, extra, member)


if __name__ == "__main__":
    main()
