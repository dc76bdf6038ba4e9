"""What API tests say about answers."""

import json
import re
from collections.abc import Iterator
from typing import Any

from flask import Flask
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

PROBLEM = "application/problem+json"
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def assert_problem(response: TestResponse, status: int, slug: str | None = None) -> dict[str, Any]:
    """The answer is a problem of this status; answers its members."""
    assert response.status_code == status, response.get_data(as_text=True)
    assert response.content_type == PROBLEM
    body: dict[str, Any] = response.get_json()
    assert body["status"] == status
    assert body["type"].startswith("/problems/")
    assert isinstance(body["title"], str)
    assert isinstance(body["detail"], str)
    if slug is not None:
        assert body["type"] == f"/problems/{slug}", body
    return body


def api_operations(app: Flask) -> Iterator[tuple[str, Rule]]:
    """Every method and rule under ``/api/v1``, the document itself left out."""
    for rule in app.url_map.iter_rules():
        if rule.rule.startswith("/api/v1") and rule.endpoint not in {
            "api-docs.openapi_json",
            "asyncapi.asyncapi",
        }:
            for method in sorted((rule.methods or set()) & set(METHODS)):
                yield method, rule


def path_of(rule: Rule, **values: Any) -> str:
    """A concrete path: ids are 1 and names ``HM-1`` unless given."""
    path = ""
    for part in rule._trace:
        kind, text = part
        if not kind:
            path += text.removeprefix("|")
            continue
        whole = type(rule._converters[text]).__name__ == "IntegerConverter"
        path += str(values.get(text, 1 if whole else "HM-1"))
    return path


def documented_path(rule: Rule) -> str:
    """A rule as the OpenAPI document writes its path."""
    return re.sub(r"<(?:[^<>]*:)?(\w+)>", r"{\1}", rule.rule)


def examples(app: Flask) -> dict[tuple[str, str], dict[str, Any]]:
    """What to send by example for each documented operation, by method and path, as the client takes it."""
    document = app.test_client().get("/api/v1/openapi.json").get_json()
    return {
        (method.upper(), path): {**_body(operation), "query_string": _query(operation)}
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
        if method != "parameters"
    }


def _body(operation: dict[str, Any]) -> dict[str, Any]:
    for kind, content in operation.get("requestBody", {}).get("content", {}).items():
        example = content.get("example")
        if kind == "application/json":
            return {"json": example}
        return {"data": example if isinstance(example, str) else json.dumps(example), "content_type": kind}
    return {}


def _query(operation: dict[str, Any]) -> dict[str, Any]:
    asked = [p for p in operation.get("parameters", []) if p["in"] == "query"]
    told = {p["name"]: p.get("example", p["schema"].get("example")) for p in asked}
    return {name: value for name, value in told.items() if value is not None}
