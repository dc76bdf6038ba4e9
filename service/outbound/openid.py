"""
Talk to an organisation's OpenID Connect provider: authorization code flow with PKCE, then a checked ID token.

Sources: OpenID Connect Core 1.0 section 3.1 and Discovery 1.0 section 4, RFC 7636 (PKCE), RFC 9207 (``iss`` in the
answer). Authlib speaks OAuth, joserfc checks the token.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import requests
from authlib.common.errors import AuthlibBaseError
from authlib.integrations.requests_client import OAuth2Session
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

SCOPE = "openid profile email"
ALGORITHMS = ("RS256", "RS384", "RS512", "PS256", "ES256", "ES384", "EdDSA")
"""Signatures by the provider's private key; ``none`` and shared secrets are not among them."""
TIMEOUT_S = 10.0
LEEWAY_S = 60


class ProviderFailed(Exception):
    """The provider does not answer as it should, or its answer does not hold; nobody is let in."""


@dataclass(frozen=True, slots=True)
class Provider:
    """
    An organisation's provider and this installation's registration there.

    Parameters
    ----------
    issuer
        Its identity, to the letter; discovery is below it.
    client_id, client_secret
        As registered.
    """

    issuer: str
    client_id: str
    client_secret: str


@dataclass(frozen=True, slots=True)
class Started:
    """A sign-in under way: where the browser goes, and what must be known again when it comes back."""

    url: str
    state: str
    nonce: str
    verifier: str


def start(provider: Provider, redirect_uri: str, new_secret: Callable[[], str]) -> Started:
    """Begin a sign-in."""
    endpoint = _metadata(provider)["authorization_endpoint"]
    nonce, verifier = new_secret(), new_secret() + new_secret()
    with _session(provider, redirect_uri) as session:
        url, state = session.create_authorization_url(endpoint, nonce=nonce, code_verifier=verifier)
    return Started(url, state, nonce, verifier)


def finish(
    provider: Provider, redirect_uri: str, started: Started, answer_url: str, now_s: float
) -> dict[str, Any]:
    """
    Exchange the code that the browser brought, and check the ID token.

    Parameters
    ----------
    provider, redirect_uri, started
        As at the start.
    answer_url
        The URL that the browser came back with.
    now_s
        Unix time [s].

    Returns
    -------
    dict
        The token's claims.

    Raises
    ------
    ProviderFailed
        When anything at all does not hold.
    """
    metadata = _metadata(provider)
    try:
        with _session(provider, redirect_uri, started.state) as session:
            token = session.fetch_token(
                metadata["token_endpoint"],
                authorization_response=answer_url,
                code_verifier=started.verifier,
                timeout=TIMEOUT_S,
            )
        keys = KeySet.import_key_set(_get(metadata["jwks_uri"]))
        claims = dict(jwt.decode(token["id_token"], keys, algorithms=ALGORITHMS).claims)
        _check(claims, provider, started.nonce, now_s)
    except (AuthlibBaseError, JoseError, requests.RequestException, KeyError, ValueError, TypeError) as error:
        raise ProviderFailed(f"{type(error).__name__}: {error}"[:300]) from error
    return claims


def _check(claims: dict[str, Any], provider: Provider, nonce: str, now_s: float) -> None:
    registry = jwt.JWTClaimsRegistry(
        now=int(now_s),
        leeway=LEEWAY_S,
        iss={"essential": True, "value": provider.issuer},
        sub={"essential": True},
        aud={"essential": True, "value": provider.client_id},
        exp={"essential": True},
        iat={"essential": True},
        nonce={"essential": True, "value": nonce},
    )
    registry.validate(claims)
    if isinstance(claims["aud"], list) and len(claims["aud"]) > 1 and claims.get("azp") != provider.client_id:
        raise ValueError("the token is for several audiences and not issued to this one")
    if not isinstance(claims["sub"], str) or not 1 <= len(claims["sub"]) <= 255:
        raise ValueError("the token names no subject")


def _metadata(provider: Provider) -> dict[str, Any]:
    try:
        metadata = _get(f"{provider.issuer.rstrip('/')}/.well-known/openid-configuration")
        if metadata["issuer"] != provider.issuer:
            raise ValueError(f"the provider calls itself {metadata['issuer']!r}")
        for name in ("authorization_endpoint", "token_endpoint", "jwks_uri"):
            if not str(metadata[name]).startswith(provider.issuer.partition(":")[0] + ":"):
                raise ValueError(f"{name} is not on the issuer's scheme")
    except (requests.RequestException, KeyError, ValueError) as error:
        raise ProviderFailed(f"discovery: {type(error).__name__}: {error}"[:300]) from error
    return dict(metadata)


def _get(url: str) -> Any:
    answer = requests.get(url, timeout=TIMEOUT_S, allow_redirects=False)
    answer.raise_for_status()
    return answer.json()


def _session(provider: Provider, redirect_uri: str, state: str | None = None) -> OAuth2Session:
    return OAuth2Session(
        provider.client_id,
        provider.client_secret,
        scope=SCOPE,
        redirect_uri=redirect_uri,
        state=state,
        code_challenge_method="S256",
    )
