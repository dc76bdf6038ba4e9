"""The WSGI target: ``gunicorn service.wsgi:app``."""

from service.app import create_app
from service.logs import configure_logs
from service.settings import load_settings
from service.tracing import trace
from service.wiring import LateJudge, verdict_engine, wire

configure_logs()
_settings = load_settings()
_services = wire(_settings, judge=LateJudge(_settings.region, verdict_engine(_settings.region)))
app = create_app(_settings, _services)
trace(app, _services.database.engine)
