"""OpenTelemetry traces, for installations that collect them: ``pip install heelmark[tracing]``.

Nothing is imported and nothing costs anything unless ``OTEL_EXPORTER_OTLP_ENDPOINT`` (or the one for traces) is
set; sampling, headers and the rest follow OpenTelemetry's own variables.
"""

import os
from importlib.util import find_spec
from typing import Any

import sqlalchemy as sa
import structlog
from flask import Flask

ENDPOINTS = ("OTEL_EXPORTER_OTLP_ENDPOINT", "OTEL_EXPORTER_OTLP_TRACES_ENDPOINT")
NOT_TRACED = "healthz,readyz,metrics"

log = structlog.get_logger(__name__)


def trace(app: Flask, engine: sa.Engine) -> bool:
    """Trace requests and statements where it is asked for; tells whether it is."""
    if not any(os.environ.get(name) for name in ENDPOINTS):
        return False
    if find_spec("opentelemetry") is None:
        log.warning("tracing.not_installed", install="pip install heelmark[tracing]")
        return False
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter

    instrument(app, engine, OTLPSpanExporter())
    return True


def instrument(app: Flask, engine: sa.Engine, exporter: Any) -> Any:
    """Send spans of requests and statements to an exporter; answers the provider, to be shut down by tests."""
    from opentelemetry.instrumentation.flask import FlaskInstrumentor
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    provider = TracerProvider(resource=Resource.create({"service.name": "heelmark"}))
    provider.add_span_processor(BatchSpanProcessor(exporter))
    requests: Any = FlaskInstrumentor()
    requests.instrument_app(app, tracer_provider=provider, excluded_urls=NOT_TRACED)
    # A request's span begins before the guard looks up its token, whose statements belong to it.
    before = app.before_request_funcs[None]
    before.insert(0, before.pop())
    _statements(engine, provider.get_tracer("heelmark.store"))
    return provider


def _statements(engine: sa.Engine, tracer: Any) -> None:
    """A span a statement, by its text without its values."""

    @sa.event.listens_for(engine, "before_cursor_execute")
    def begin(
        connection: sa.Connection, _cursor: Any, statement: str, _values: Any, _context: Any, _many: bool
    ) -> None:
        attributes = {"db.system.name": engine.dialect.name, "db.query.text": statement}
        connection.info["span"] = tracer.start_span(statement.split(None, 1)[0], attributes=attributes)

    @sa.event.listens_for(engine, "after_cursor_execute")
    def end(connection: sa.Connection, *_: Any) -> None:
        connection.info.pop("span").end()

    @sa.event.listens_for(engine, "handle_error")
    def failed(context: sa.engine.ExceptionContext) -> None:
        span = context.connection.info.pop("span", None) if context.connection is not None else None
        if span is not None:
            span.record_exception(context.original_exception)
            span.end()
