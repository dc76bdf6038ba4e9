"""The board over HTTPS for phones of the own network: certificates, the processes that serve, what is printed."""

import socket
import ssl
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from http.client import HTTPException, HTTPSConnection
from pathlib import Path

import segno

from deploy.up.certificates import Certificates, addresses_of_this_machine, ensure, names_of_this_machine
from deploy.up.child import ChildSpec
from deploy.up.chores import Chore
from deploy.up.console import say
from deploy.up.ports import accepts_connections, ensure_free
from deploy.up.settings import UpSettings

FOLDER = "certificates"
EVERYWHERE = "0.0.0.0"  # noqa: S104


@dataclass(frozen=True, slots=True)
class Lan:
    """
    How phones reach the board.

    Parameters
    ----------
    board, setup
        Addresses of the board, and of the page that sets a phone up; None with a certificate of one's own.
    server
        File with key and chain.
    made
        Where the authority was made here.
    """

    board: str
    setup: str | None
    server: Path
    made: Certificates | None

    @property
    def told(self) -> str:
        """Where phones reach the board, or why they cannot."""
        if "://127.0.0.1:" in self.board:
            networks = "10.x, 172.16.x to 172.31.x, 192.168.x"
            return f"cannot reach it: this machine has no address in a private network ({networks})"
        return f"reach it at {self.board}"

    @property
    def environment(self) -> dict[str, str]:
        """What the service is told, so that labels carry an address that a phone reaches."""
        return {"HEELMARK_PUBLIC_URL": self.board, "HEELMARK_CERTIFICATE": str(self.server)}

    def specs(self, settings: UpSettings, environ: Mapping[str, str]) -> list[ChildSpec]:
        """Return the processes to start."""
        authority = None if self.made is None else self.made.authority
        port, server = settings.https_port, str(self.server)
        secure = ChildSpec(
            name="service-https",
            # gunicorn's own threaded worker: the buffering one reads plain HTTP.
            argv=[
                *(sys.executable, "-m", "gunicorn", "--config", "python:service.serving"),
                *("--worker-class", "gthread", "--graceful-timeout", "5", "--certfile", server),
                *("--bind", f"{EVERYWHERE}:{port}", "service.wsgi:app"),
            ],
            env={**environ, "HEELMARK_SECURE_COOKIES": "true"},
            ready=lambda: answers_https(port, authority),
            answers=lambda: answers_https(port, authority, timeout_s=20.0),
            ready_within_s=60.0,
            stop_within_s=15.0,
            essential=True,
        )
        if self.made is None:
            return [secure]
        page = [*_page_command(), str(self.made.authority), self.board, self.made.fingerprint]
        told = {**environ, "HEELMARK_PHONE_PORT": str(settings.phone_port)}
        ready = settings.phone_port
        return [
            secure,
            ChildSpec(
                name="phone-page", argv=page, env=told, ready=lambda: accepts_connections("127.0.0.1", ready)
            ),
        ]


def open_lan(settings: UpSettings) -> Lan:
    """Make or renew the certificates, and say at which addresses phones find the board."""
    ensure_free(EVERYWHERE, settings.https_port, "HEELMARK_HTTPS_PORT")
    if settings.certificate is not None:
        return Lan(f"https://{settings.name}:{settings.https_port}", None, settings.certificate, None)
    ensure_free(EVERYWHERE, settings.phone_port, "HEELMARK_PHONE_PORT")
    names, addresses = names_of_this_machine(), addresses_of_this_machine()
    made = ensure(settings.data / FOLDER, names, addresses, datetime.now(UTC))
    host = reached_at(names, addresses)
    setup = f"http://{host}:{settings.phone_port}/"
    return Lan(f"https://{host}:{settings.https_port}", setup, made.server, made)


def reached_at(names: tuple[str, ...], addresses: tuple[str, ...]) -> str:
    """The name where this machine finds itself by it, which phones then do too; else the first address."""
    for name in names:
        try:
            found = {str(one[4][0]) for one in socket.getaddrinfo(name, None, socket.AF_INET)}
        except OSError:
            continue
        if name != "localhost" and found & (set(addresses) - {"127.0.0.1"}):
            return name
    return addresses[0]


def answers_https(port: int, authority: Path | None, timeout_s: float = 2.0) -> bool:
    """Whether the board answers over HTTPS on this machine, with a certificate of the authority where it has one."""
    if authority is None:
        return accepts_connections("127.0.0.1", port)
    context = ssl.create_default_context(cafile=str(authority))
    connection = HTTPSConnection("127.0.0.1", port, timeout=timeout_s, context=context)
    try:
        connection.request("GET", "/healthz")
        return connection.getresponse().status == 200
    except (OSError, HTTPException):
        return False
    finally:
        connection.close()


def lan_chores(settings: UpSettings, environ: Mapping[str, str], tell: Callable[[str], None]) -> list[Chore]:
    """Return what is done every night: renew the certificate when it is due; the server reloads it by itself."""
    if not settings.lan or settings.certificate is not None:
        return []
    folder = settings.data / FOLDER
    command = [sys.executable, "-m", "deploy.up.certificates", str(folder)]
    spec = ChildSpec(name="certificate", argv=command, env=environ)
    return [Chore(spec, stamp=settings.data / "certificate.done", log_folder=settings.data / "log", say=tell)]


def tell_phones(lan: Lan) -> None:
    """Print what a phone scans, and what to compare there."""
    say("")
    say(f"  Phones    {lan.setup or lan.board}")
    if lan.made is not None:
        say("            on the phone, compare this line before you trust it:")
        say(f"            {lan.made.fingerprint}")
    if sys.stdout.isatty():
        segno.make_qr(lan.setup or lan.board, error="m").terminal(compact=True)


def _page_command() -> list[str]:
    return [sys.executable, "-m", "deploy.up.phone_page"]
