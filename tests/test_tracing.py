"""Traces are off unless asked for; asked for, a request and its statements are one trace."""

import pytest
from flask import Flask

from service import tracing
from service.operations.support.context import Services


def test_nothing_happens_unless_asked_for(
    app: Flask, services: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in tracing.ENDPOINTS:
        monkeypatch.delenv(name, raising=False)
    before = app.wsgi_app
    assert tracing.trace(app, services.database.engine) is False
    assert app.wsgi_app == before


def test_asked_for_without_the_packages_it_says_what_to_install(
    app: Flask, services: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(tracing.ENDPOINTS[0], "http://127.0.0.1:1")
    monkeypatch.setattr(tracing, "find_spec", lambda name: None)
    assert tracing.trace(app, services.database.engine) is False


def test_a_request_and_its_statements_are_one_trace(app: Flask, services: Services) -> None:
    pytest.importorskip("opentelemetry.instrumentation.flask", reason="the extra tracing is not installed")
    from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

    exporter = InMemorySpanExporter()
    provider = tracing.instrument(app, services.database.engine, exporter)
    try:
        app.test_client().get("/api/v1/cylinders", headers={"Authorization": "Bearer nobody"})
        app.test_client().get("/healthz")
        provider.force_flush()
        spans = exporter.get_finished_spans()
    finally:
        provider.shutdown()
    routes = [span.attributes.get("http.route") for span in spans if span.attributes.get("http.route")]
    assert routes == ["/api/v1/cylinders"]
    assert len({span.context.trace_id for span in spans}) == 1
    assert len(spans) >= 2, "the request, and the look-up of its token"
