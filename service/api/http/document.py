"""The OpenAPI document and our blueprint: errors are problem details, exclusions of fields are told."""

import http
import re
from typing import Any

import marshmallow as ma
from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from flask import Flask, Response, request
from flask_smorest import Api
from flask_smorest import Blueprint as SmorestBlueprint
from flask_smorest.utils import prepare_response
from webargs.flaskparser import FlaskParser
from werkzeug.exceptions import BadRequest, UnsupportedMediaType

from service.api.http.json_types import JsonObject
from service.api.http.problems import PROBLEM_TYPE
from service.api.http.typed_views import View, check_answer, check_body
from service.api.http.vocabulary import describe, meaning
from service.operations.support.errors import NotFound
from service.problem_types import PROBLEM_TYPES

TITLE = "Heelmark"
COMPATIBILITY = (
    "Within `/api/v1` operations and fields are added, never removed, renamed or given another meaning; clients "
    "ignore fields they do not know. What is to go is marked `deprecated` here and answers with `Deprecation` and "
    "`Sunset` headers (RFC 9745, RFC 8594) for at least twelve months, and goes with `/api/v2`."
)
DESCRIPTION = (
    "Says what a refrigerant recovery cylinder holds, from pressure and temperature. A pressure-temperature "
    "check screens; it proves nothing about moisture, acid, oil or small amounts of another refrigerant. "
    "Errors are problem details (RFC 9457). Quantities carry their unit in the name; where two units are "
    f"offered, give one. {COMPATIBILITY}"
)

HERE = {"url": "/", "description": "The installation that serves this document."}
EVENTS = {"url": "/api/v1/asyncapi.yaml", "description": "What is published and told, as AsyncAPI 3.0."}


class ProblemSchema(ma.Schema):
    """Problem details by RFC 9457."""

    type = ma.fields.String(
        required=True,
        metadata={"example": "/problems/validation", "enum": [one.uri for one in PROBLEM_TYPES.values()]},
    )
    title = ma.fields.String(required=True)
    status = ma.fields.Integer(required=True)
    detail = ma.fields.String(required=True)
    instance = ma.fields.String()
    errors = ma.fields.List(
        ma.fields.Dict(), metadata={"description": "field, value and expected of each fault"}
    )
    reasons = ma.fields.List(
        ma.fields.Dict(), metadata={"description": "code, text and source of each broken rule"}
    )


class Converter(OpenAPIConverter):
    """Adds what a schema says of itself beyond its fields, and what the vocabulary says of those."""

    def init_attribute_functions(self) -> None:
        """Describe every field."""
        super().init_attribute_functions()  # type: ignore[no-untyped-call]
        self.add_attribute_function(describe)  # type: ignore[no-untyped-call]

    def schema2jsonschema(self, schema: ma.Schema) -> JsonObject:
        """JSON Schema of a schema."""
        described: dict[str, Any] = super().schema2jsonschema(schema)  # type: ignore[no-untyped-call]
        if hasattr(schema, "json_schema"):
            described.update(schema.json_schema())
        return described


class Plugin(MarshmallowPlugin):
    """Marshmallow schemas by our converter."""

    Converter = Converter


class Parser(FlaskParser):
    """Refuses unknown parameters everywhere, and bodies that are not JSON."""

    DEFAULT_UNKNOWN_BY_LOCATION = {  # noqa: RUF012
        **FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION,
        "query": ma.RAISE,
    }

    def load_json(self, req: Any, schema: Any) -> Any:
        """Body of the request."""
        if not req.is_json:
            raise UnsupportedMediaType("The body has to be application/json.")
        try:
            return super().load_json(req, schema)
        except RecursionError:
            raise BadRequest("The JSON is nested too deeply.") from None
        except ValueError:
            # The interpreter's own limit on digits; everything else that is wrong has been told by now.
            raise BadRequest("The JSON has a number of too many digits.") from None


class Blueprint(SmorestBlueprint):
    """One noun's routes."""

    ARGUMENTS_PARSER = Parser()

    def arguments(self, schema: Any, **options: Any) -> Any:
        """Take what a request brings; of a schema class, one instance serves all requests."""
        one = schema() if isinstance(schema, type) else schema
        decorate = super().arguments(one, **options)

        def checked(view: View) -> Any:
            check_body(view, one)
            return decorate(view)

        return checked

    def response(self, status_code: int, schema: Any = None, **options: Any) -> Any:
        """Say what is answered, and with a schema, from what it is written."""
        decorate = super().response(status_code, schema, **options)

        def checked(view: View) -> Any:
            if isinstance(schema, type):
                check_answer(view, schema)
            return decorate(view)

        return checked


class HeelmarkApi(Api):
    """The API; its error handlers are those of the application."""

    ERROR_SCHEMA = ProblemSchema
    _document: bytes | None = None

    def _openapi_json(self) -> Response:
        """Serve the document, which is put together once: it takes as long as three verdicts."""
        if self._document is None:
            self._document = super()._openapi_json().get_data()
        response = Response(self._document, mimetype="application/json")
        response.add_etag()
        response.headers["Cache-Control"] = "public, no-cache"
        response.make_conditional(request)
        return response

    def _register_error_handlers(self) -> None:
        """Leave errors to ``problems.register``: the inherited handler answers in another shape."""

    def _register_responses(self) -> None:
        """Document errors with their true media type."""
        for status in http.HTTPStatus:
            self._register_response(status.name, status.phrase, with_body=status >= 400)
        self._register_response("DEFAULT_ERROR", "Any refusal, as problem details", with_body=True)

    def _register_response(self, name: str, description: str, *, with_body: bool) -> None:
        response: dict[str, Any] = {"description": description}
        if with_body:
            response["schema"] = self.ERROR_SCHEMA
        prepare_response(response, self.spec, PROBLEM_TYPE)
        self.spec.components.response(name, response, lazy=True)


def make_api(app: Flask, version: str) -> HeelmarkApi:
    """The API of an application, serving its own document."""
    app.config.update(
        API_TITLE=TITLE,
        API_VERSION=version,
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/api/v1",
        OPENAPI_JSON_PATH="openapi.json",
    )
    licence = {"name": "Apache-2.0", "identifier": "Apache-2.0"}
    info = {"description": DESCRIPTION, "license": licence}
    spec = {"marshmallow_plugin": Plugin(), "info": info, "servers": [HERE], "externalDocs": EVENTS}
    api = HeelmarkApi(app, spec_kwargs=spec)
    api.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})
    return api


def name_operations(api: HeelmarkApi) -> None:
    """Give every operation the stable name that generated clients call it by: ``get_cylinders_by_serial``."""
    for path, operations in api.spec._paths.items():
        words = re.sub(r"{(\w+)}", r"by_\1", path.removeprefix("/api/v1/"))
        noun = re.sub(r"\W+", "_", words)
        for method, operation in operations.items():
            if method != "parameters":
                operation["operationId"] = f"{method}_{noun}"
            for parameter in operation if method == "parameters" else ():
                told = meaning("path", parameter["name"])
                if told is not None:
                    parameter["description"] = told[1]


def refuse_control_characters() -> None:
    """A path with a control character names nothing; databases differ in how they choke on it."""
    for value in (request.view_args or {}).values():
        if isinstance(value, str) and any(ord(letter) < 32 or letter == "\ufffd" for letter in value):
            raise NotFound("thing", "of that name")
