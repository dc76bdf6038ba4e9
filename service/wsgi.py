"""The WSGI target: ``gunicorn service.wsgi:app``."""

from service.app import create_app
from service.logs import configure_logs
from service.settings import load_settings
from service.wiring import verdict_engine, wire

configure_logs()
_settings = load_settings()
app = create_app(_settings, wire(_settings, judge=verdict_engine(_settings.region)))
