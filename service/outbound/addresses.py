"""Which targets a webhook may have: a subscription must not turn the service against its own network.

The name is resolved once, every address it has is checked, and the connection goes to exactly the address
that was checked; a name that changes its answer in between (DNS rebinding) gains nothing. Common practice
(OWASP "Server-Side Request Forgery Prevention"). The blocks are those that the IANA special-purpose registries call
not globally reachable: as ``ipaddress`` has them, which differs with the version of Python, and those named here.
"""

import socket
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from urllib.parse import urlsplit

Address = IPv4Address | IPv6Address
Resolver = Callable[[str, int], Sequence[str]]

_NAT64 = ip_network("64:ff9b::/96")
_UNICAST = ip_network("2000::/3")
"""IANA assigns global unicast addresses from here alone (IPv6 address space registry, read 2024-09-10)."""
_NOT_PUBLIC = [
    ip_network(block)
    for block in (
        "100.64.0.0/10",  # shared address space, RFC 6598
        "192.0.0.0/24",  # IETF protocol assignments, RFC 6890
        "192.88.99.0/24",  # deprecated 6to4 relays, RFC 7526
        "2001::/23",  # IETF protocol assignments, RFC 2928
        "2001:db8::/32",  # documentation, RFC 3849
        "3fff::/20",  # documentation, RFC 9637
    )
]


class ForbiddenTarget(ValueError):
    """The target may not be called; the message says which rule it breaks."""


@dataclass(frozen=True, slots=True)
class Target:
    """A URL and the checked address that its connection must go to."""

    url: str
    host: str
    port: int
    address: str


def caller_key(address: str | None) -> str:
    """What counts as one caller: an IPv4 address, or the /64 network that one IPv6 line is given (RFC 6177)."""
    try:
        parsed = ip_address(address or "")
    except ValueError:
        return "unknown"
    return str(parsed) if isinstance(parsed, IPv4Address) else f"{int(parsed) >> 64:x}/64"


def system_resolver(host: str, port: int) -> list[str]:
    """Every address that the machine's resolver gives for a name."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(entry[4][0]).partition("%")[0] for entry in found))


def is_public(address: Address) -> bool:
    """Tell whether it is globally routable unicast, also when an IPv6 address wraps an IPv4 one."""
    if isinstance(address, IPv6Address):
        inner = _embedded_ipv4(address)
        if inner is not None:
            return is_public(inner)
        if address not in _UNICAST:
            return False
    if any(address in block for block in _NOT_PUBLIC):
        return False
    return address.is_global and not (address.is_multicast or address.is_reserved or address.is_unspecified)


def _embedded_ipv4(address: IPv6Address) -> IPv4Address | None:
    if address.ipv4_mapped is not None:
        return address.ipv4_mapped
    if address.sixtofour is not None:
        return address.sixtofour
    if address.teredo is not None:
        return address.teredo[1]
    return IPv4Address(int(address) & 0xFFFFFFFF) if address in _NAT64 else None


@dataclass(frozen=True, slots=True)
class AddressPolicy:
    """What the operator allows beyond public addresses over HTTPS: hosts named one by one.

    Attributes
    ----------
    named_hosts
        Host names or literal addresses, lower case, as they stand in the URL. They may be private and may be
        called without TLS.
    """

    named_hosts: frozenset[str] = frozenset()

    def parse(self, url: str) -> tuple[str, int]:
        """Host and port of an acceptable URL, before any name is resolved.

        Raises
        ------
        ForbiddenTarget
            Not ``https`` (or ``http`` to a named host), a user or fragment inside, no host, a bad port.
        """
        try:
            parts = urlsplit(url)
            port = parts.port
        except ValueError:
            raise ForbiddenTarget("the URL cannot be parsed") from None
        host = (parts.hostname or "").rstrip(".")
        if not host or not url.isascii() or any(ord(c) <= 0x20 or c == "\\" for c in url):
            raise ForbiddenTarget("expected an absolute ASCII URL with a host and without spaces")
        try:
            host.encode("idna")
        except UnicodeError:
            raise ForbiddenTarget("the host is no name: its parts have 1 to 63 characters") from None
        if parts.username is not None or parts.fragment:
            raise ForbiddenTarget("a user, a password or a fragment has no place in a webhook URL")
        named = host in self.named_hosts
        if parts.scheme != "https" and not (parts.scheme == "http" and named):
            raise ForbiddenTarget("expected https; http only to a host named in HEELMARK_WEBHOOK_NAMED_HOSTS")
        if port == 0:
            raise ForbiddenTarget("port 0 cannot be called")
        return host, port or (443 if parts.scheme == "https" else 80)

    def target(self, url: str, resolve: Resolver = system_resolver) -> Target:
        """Resolve, check every address, and pin the first.

        Raises
        ------
        ForbiddenTarget
            The URL is unacceptable, or any address is not public and the host is not named.
        OSError
            The name cannot be resolved.
        """
        host, port = self.parse(url)
        addresses = resolve(host, port)
        if not addresses:
            raise ForbiddenTarget(f"{host} has no address")
        if host not in self.named_hosts:
            for address in addresses:
                if not is_public(ip_address(address)):
                    raise ForbiddenTarget(f"{host} leads to {address}, which is not a public address")
        return Target(url, host, port, addresses[0])
