"""An OpenID Connect provider of our own: says yes to everybody, and lies on request."""

import base64
import hashlib
import http.server
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import RSAKey

CLIENT_ID, CLIENT_SECRET = "heelmark-test", "a secret of the test's provider"


@cache
def own_key() -> RSAKey:
    """The key that the provider says it signs with."""
    return RSAKey.generate_key(2048, {"kid": "one"})


@dataclass
class OpenIdProvider:
    """What it answers; tests change the claims, the key that signs, or what it says of itself."""

    issuer: str = ""
    claims: dict[str, Any] = field(default_factory=dict)
    key: RSAKey = field(default_factory=own_key)
    signer: RSAKey | None = None
    says_issuer: str | None = None
    algorithm: str = "RS256"
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    exchanged: list[str] = field(default_factory=list)

    def authorize(self, query: dict[str, str]) -> str:
        """Where the browser is sent back to."""
        code = f"code-{len(self.codes)}"
        self.codes[code] = query
        return f"{query['redirect_uri']}?{urlencode({'code': code, 'state': query['state']})}"

    def token(self, form: dict[str, str], authorization: str) -> tuple[int, dict[str, Any]]:
        """The answer to a code; checks the client and the verifier, and takes each code once."""
        asked = self.codes.pop(form.get("code", ""), None)
        basic = base64.b64encode(f"{CLIENT_ID}:{CLIENT_SECRET}".encode()).decode()
        digest = hashlib.sha256(form.get("code_verifier", "").encode()).digest()
        challenge = base64.urlsafe_b64encode(digest).decode().rstrip("=")
        if asked is None or authorization != f"Basic {basic}" or asked["code_challenge"] != challenge:
            return 400, {"error": "invalid_grant"}
        self.exchanged.append(form["code"])
        now = int(time.time())
        claims = {
            "iss": self.issuer,
            "sub": "subject-1",
            "aud": CLIENT_ID,
            "iat": now,
            "exp": now + 300,
            "nonce": asked["nonce"],
            "email": "rosa@fleet.example",
            "email_verified": True,
            "name": "Rosa Muster",
            **self.claims,
        }
        claims = {name: value for name, value in claims.items() if value is not None}
        header = {"alg": self.algorithm, "kid": "one"}
        signed = jwt.encode(header, claims, self.signer or self.key)
        return 200, {"access_token": "a", "token_type": "Bearer", "id_token": signed}

    def get(self, path: str) -> dict[str, Any]:
        """Metadata and keys."""
        if path.endswith("openid-configuration"):
            return {
                "issuer": self.says_issuer or self.issuer,
                "authorization_endpoint": f"{self.issuer}/authorize",
                "token_endpoint": f"{self.issuer}/token",
                "jwks_uri": f"{self.issuer}/keys",
            }
        return {"keys": [self.key.as_dict(private=False)]}


class Handler(http.server.BaseHTTPRequestHandler):
    """Speaks for the provider that the server carries."""

    @property
    def provider(self) -> OpenIdProvider:
        return self.server.provider

    def do_GET(self) -> None:
        split = urlsplit(self.path)
        if split.path != "/authorize":
            self.answer(200, self.provider.get(split.path))
            return
        query = {name: values[0] for name, values in parse_qs(split.query).items()}
        self.send_response(302)
        self.send_header("Location", self.provider.authorize(query))
        self.end_headers()

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"])).decode()
        form = {name: values[0] for name, values in parse_qs(body).items()}
        self.answer(*self.provider.token(form, self.headers.get("Authorization", "")))

    def answer(self, status: int, body: dict[str, Any]) -> None:
        text = json.dumps(body).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(text)))
        self.end_headers()
        self.wfile.write(text)

    def log_message(self, *_: object) -> None:
        pass


@contextmanager
def openid_provider() -> Iterator[OpenIdProvider]:
    """A running provider."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.provider = OpenIdProvider(issuer=f"http://127.0.0.1:{server.server_port}")
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.provider
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
