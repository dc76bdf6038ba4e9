"""Signatures against the PyPI package `standardwebhooks` as an independent receiver."""

import base64
import hashlib
import hmac
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks import Webhook, WebhookVerificationError

from service.outbound.signing import MalformedSecret, key_from_secret, secret_from_key, signed_headers

OLD = secret_from_key(b"o" * 24)
NEW = secret_from_key(b"n" * 64)


def now() -> datetime:
    return datetime.now(UTC)


@given(st.binary(min_size=24, max_size=64), st.text(max_size=200))
def test_independent_receiver_accepts(key: bytes, text: str) -> None:
    body = text.encode("utf-8", "replace")
    headers = signed_headers([secret_from_key(key)], "evt_1", now(), body)
    Webhook(secret_from_key(key)).verify(body, headers, json_parse=False)


def test_while_two_secrets_are_valid_a_receiver_with_either_accepts() -> None:
    headers = signed_headers([NEW, OLD], "evt_7", now(), b"{}")
    for secret in (OLD, NEW):
        assert Webhook(secret).verify(b"{}", headers) == {}
    with pytest.raises(WebhookVerificationError):
        Webhook(secret_from_key(b"x" * 32)).verify(b"{}", headers)


@pytest.mark.parametrize("changed", ["webhook-id", "webhook-timestamp"])
def test_a_changed_header_is_refused(changed: str) -> None:
    headers = signed_headers([NEW], "evt_7", now(), b"{}")
    headers[changed] = str(int(now().timestamp()) - 1) if changed == "webhook-timestamp" else "evt_8"
    with pytest.raises(WebhookVerificationError):
        Webhook(NEW).verify(b"{}", headers)


def test_a_changed_body_or_an_old_message_is_refused() -> None:
    with pytest.raises(WebhookVerificationError):
        Webhook(NEW).verify(b"{ }", signed_headers([NEW], "evt_7", now(), b"{}"))
    with pytest.raises(WebhookVerificationError, match="too old"):
        Webhook(NEW).verify(b"{}", signed_headers([NEW], "e", now() - timedelta(minutes=6), b"{}"))


def test_signed_text_is_id_dot_timestamp_dot_body() -> None:
    """The specification's formula written out, with the id and timestamp that its text uses."""
    headers = signed_headers(
        [OLD], "msg_2KWPBgLlAfxdpx2AI54pPJ85f4W", datetime.fromtimestamp(1674087231, UTC), b'{"a":1}'
    )
    text = b'msg_2KWPBgLlAfxdpx2AI54pPJ85f4W.1674087231.{"a":1}'
    digest = hmac.new(b"o" * 24, text, hashlib.sha256).digest()
    assert headers["webhook-signature"] == "v1," + base64.b64encode(digest).decode()


@pytest.mark.parametrize("bad", ["", "whsec_", "whsec_###", "whsk_" + "A" * 32, "whsec_" + "A" * 28])
def test_malformed_secrets_are_refused_without_repeating_them(bad: str) -> None:
    with pytest.raises(MalformedSecret) as refusal:
        key_from_secret(bad)
    assert not bad or bad not in str(refusal.value) or bad == "whsec_"
