"""Guessing passwords is made slow: failures are counted by name and by address."""

from flask import request
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address
from werkzeug.wrappers import Response

TOO_MANY = "Too many failed attempts. Wait five minutes, then try again."
FAILED = 403

limiter = Limiter(key_func=get_remote_address, strategy="moving-window", key_prefix="board")


def _name() -> str:
    return f"name:{request.form.get('login', '').strip().casefold()[:80]}"


def _failed(response: Response) -> bool:
    return response.status_code == FAILED


by_name = limiter.limit(
    "10 per 5 minutes", key_func=_name, methods=["POST"], deduct_when=_failed, error_message=TOO_MANY
)
by_address = limiter.limit("50 per 5 minutes", methods=["POST"], deduct_when=_failed, error_message=TOO_MANY)
