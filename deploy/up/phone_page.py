"""A page for phones over plain HTTP: how to trust this machine, and the authority to trust; nothing else is served.

python -m deploy.up.phone_page AUTHORITY_FILE BOARD_URL FINGERPRINT
"""

import os
import plistlib
import sys
import uuid
from dataclasses import dataclass
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

_PAGE: Final = """<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>Set up this phone · Heelmark</title>
<style>body{{font:18px/1.45 system-ui,sans-serif;max-width:34rem;margin:0 auto;padding:14px;
color:#14222b;background:#fff}}
h1{{font-size:24px}}h2{{font-size:20px;margin-top:28px}}a.button{{display:flex;min-height:72px;align-items:center;
justify-content:center;font-size:20px;font-weight:650;border:2px solid #14222b;border-radius:3px;color:#14222b;
text-decoration:none;margin:12px 0}}code{{overflow-wrap:anywhere;font-size:16px}}li{{margin-bottom:8px}}
@media(prefers-color-scheme:dark){{body{{background:#10181d;color:#e8eef1}}a.button{{color:#e8eef1;border-color:#e8eef1}}}}
</style></head><body><h1>Set up this phone</h1>
<p>The phone must trust this one computer before the camera and work without coverage can be used. Do it once, on the
shop's own network.</p>
<h2>1. Compare</h2><p>The computer shows the same line under “Phones”. If it differs, stop: something is between the
phone and the computer.</p><p><code>{fingerprint}</code></p>
<h2>2. Phones that ask for a profile</h2><ol>
<li><a class="button" href="/heelmark.mobileconfig">Get the profile</a></li>
<li>Open Settings, then “Profile Downloaded”, then Install.</li>
<li>Settings, General, About, Certificate Trust Settings: turn on the line that begins “Heelmark on”.</li></ol>
<h2>2. Phones that ask for a CA certificate</h2><ol>
<li><a class="button" href="/heelmark.crt">Get the certificate</a></li>
<li>Open Settings and search for “CA certificate”. Choose Install anyway, then the file heelmark.crt.</li></ol>
<h2>3. Go on</h2><a class="button" href="{board}">Open the board</a>
<p>If a warning comes, step 2 is not done yet. Do not go past the warning.</p>
<p>The certificate can vouch for private addresses and local names alone. It is taken off again in the same
settings.</p></body></html>"""
_CERTIFICATE: Final = "application/x-x509-ca-cert"
_PROFILE: Final = "application/x-apple-aspen-config"


@dataclass(frozen=True, slots=True)
class Answer:
    """What is sent for a path."""

    kind: str
    body: bytes


def answers(authority: bytes, board: str, fingerprint: str) -> dict[str, Answer]:
    """Everything that is ever sent, by path."""
    page = _PAGE.format(fingerprint=escape(fingerprint), board=escape(board, quote=True)).encode()
    der = x509.load_pem_x509_certificate(authority).public_bytes(Encoding.DER)
    return {
        "/": Answer("text/html; charset=utf-8", page),
        "/heelmark.crt": Answer(_CERTIFICATE, der),
        "/heelmark.mobileconfig": Answer(_PROFILE, profile(der, fingerprint)),
    }


def profile(der: bytes, fingerprint: str) -> bytes:
    """A configuration profile that holds the one certificate; the same one each time."""
    told = {
        "PayloadType": "com.apple.security.root",
        "PayloadVersion": 1,
        "PayloadIdentifier": "heelmark.authority",
        "PayloadUUID": str(uuid.uuid5(uuid.NAMESPACE_URL, f"certificate {fingerprint}")),
        "PayloadDisplayName": "Heelmark on this network",
        "PayloadContent": der,
    }
    return plistlib.dumps(
        {
            "PayloadType": "Configuration",
            "PayloadVersion": 1,
            "PayloadIdentifier": "heelmark",
            "PayloadUUID": str(uuid.uuid5(uuid.NAMESPACE_URL, f"profile {fingerprint}")),
            "PayloadDisplayName": "Heelmark",
            "PayloadContent": [told],
        }
    )


def server(host: str, port: int, sent: dict[str, Answer]) -> ThreadingHTTPServer:
    """Make the server; it reads a path and nothing more."""

    class Handler(BaseHTTPRequestHandler):
        """Answers from what is in memory."""

        timeout = 10

        def do_GET(self) -> None:
            """Send what belongs to the path, or 404."""
            found = sent.get(self.path)
            if found is None:
                self.send_error(404, "Not here")
                return
            self.send_response(200)
            self.send_header("Content-Type", found.kind)
            self.send_header("Content-Length", str(len(found.body)))
            self.send_header("Cache-Control", "no-store")
            self.end_headers()
            self.wfile.write(found.body)

    return ThreadingHTTPServer((host, port), Handler)


def main() -> None:
    """Serve until told to stop."""
    authority, board, fingerprint = sys.argv[1:4]
    sent = answers(Path(authority).read_bytes(), board, fingerprint)
    port = int(os.environ["HEELMARK_PHONE_PORT"])
    server("0.0.0.0", port, sent).serve_forever()  # noqa: S104


if __name__ == "__main__":
    main()
