"""A certificate authority of this machine alone, and a certificate for the names and addresses at which it is reached.

Phones give camera, storage and installation only to pages that come over HTTPS. The authority is made once and may
vouch for private addresses and local names alone, so that a key that gets lost opens nothing else.
"""

import os
import socket
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address, IPv4Network, IPv6Network, ip_address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_FOR = timedelta(days=3650)
SERVER_FOR = timedelta(days=365)
"""Phones take no server certificate for more than 825 days, even from an authority that was put in by hand (from
memory)."""
RENEW_WITHIN = timedelta(days=30)
LOCAL_NAMES = ("local", "localhost", "lan", "internal", "home.arpa")
PRIVATE = (
    IPv4Network("10.0.0.0/8"),
    IPv4Network("172.16.0.0/12"),
    IPv4Network("192.168.0.0/16"),
    IPv4Network("169.254.0.0/16"),
    IPv4Network("127.0.0.0/8"),
    IPv6Network("fc00::/7"),
    IPv6Network("fe80::/10"),
    IPv6Network("::1/128"),
)
"""RFC 1918, RFC 3927, RFC 4193, RFC 4291; the names are those of RFC 6761, RFC 6762, RFC 8375 and of practice."""


@dataclass(frozen=True, slots=True)
class Certificates:
    """Where they are: the server's key and chain in one file, so that both change at once, and the authority."""

    server: Path
    authority: Path

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the authority in pairs, as phones show it."""
        found = x509.load_pem_x509_certificate(self.authority.read_bytes()).fingerprint(SHA256())
        return found.hex(":").upper()


def ensure(folder: Path, names: tuple[str, ...], addresses: tuple[str, ...], now: datetime) -> Certificates:
    """
    Make what is missing; renew the server's certificate in time, and when names or addresses have changed.

    Parameters
    ----------
    folder
        Only its owner may read it.
    names, addresses
        At which the machine is reached; all local or private.
    now
        Aware time.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    made = Certificates(folder / "server.pem", folder / "authority.crt")
    key_file = folder / "authority.key"
    if not (key_file.exists() and made.authority.exists()):
        _make_authority(key_file, made.authority, now)
    if not _still_good(made, names, addresses, now):
        _make_server(key_file, made, names, addresses, now)
    return made


def names_of_this_machine() -> tuple[str, ...]:
    """Under which other machines of the network find it."""
    host = socket.gethostname().partition(".")[0].lower()
    return ("localhost",) if host in ("", "localhost") else (f"{host}.local", "localhost")


def addresses_of_this_machine() -> tuple[str, ...]:
    """Private IPv4 addresses, the one of the way out first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        # Nothing is sent: it only chooses the way. The address is of the range for documentation (RFC 5737).
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(one for one in [*found, "127.0.0.1"] if is_private(one)))


def is_private(address: str) -> bool:
    """Tell whether the authority may vouch for it."""
    parsed = ip_address(address)
    return any(
        isinstance(parsed, IPv4Address) == isinstance(net, IPv4Network) and parsed in net for net in PRIVATE
    )


def _still_good(
    made: Certificates, names: tuple[str, ...], addresses: tuple[str, ...], now: datetime
) -> bool:
    try:
        server = x509.load_pem_x509_certificates(made.server.read_bytes())[0]
        authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
        server.verify_directly_issued_by(authority)
    except (OSError, ValueError, TypeError):
        return False
    alternative = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    held = set(alternative.get_values_for_type(x509.DNSName))
    held |= {str(one) for one in alternative.get_values_for_type(x509.IPAddress)}
    return server.not_valid_after_utc - now > RENEW_WITHIN and {*names, *addresses} <= held


def _make_authority(key_file: Path, certificate_file: Path, now: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = _named(f"Heelmark on {socket.gethostname()}"[:64])
    permitted = [*(x509.DNSName(one) for one in LOCAL_NAMES), *(x509.IPAddress(net) for net in PRIVATE)]
    certificate = (
        _begun(name, name, key, now, AUTHORITY_FOR)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, SHA256())
    )
    _write(key_file, _pem(key))
    _write(certificate_file, certificate.public_bytes(Encoding.PEM))


def _make_server(
    key_file: Path, made: Certificates, names: tuple[str, ...], addresses: tuple[str, ...], now: datetime
) -> None:
    authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
    signer = load_pem_private_key(key_file.read_bytes(), None)
    if not isinstance(signer, ec.EllipticCurvePrivateKey):
        raise ValueError(f"{key_file} is not the key that was made here")
    key = ec.generate_private_key(ec.SECP256R1())
    reached = [
        *(x509.DNSName(one) for one in names),
        *(x509.IPAddress(ip_address(one)) for one in addresses),
    ]
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key())
    certificate = (
        _begun(_named((names or addresses)[0]), authority.subject, key, now, SERVER_FOR)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName(reached), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(issuer, critical=False)
        .sign(signer, SHA256())
    )
    chain = certificate.public_bytes(Encoding.PEM) + authority.public_bytes(Encoding.PEM)
    _write(made.server, _pem(key) + chain)


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A phone's clock may be behind.
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _named(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write(path: Path, data: bytes) -> None:
    """All of it or nothing, readable by its owner alone from the first byte on."""
    beside = path.with_suffix(".new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def renew(folder: Path) -> None:
    """Renew what is due, for the machine as it is now."""
    ensure(folder, names_of_this_machine(), addresses_of_this_machine(), datetime.now(UTC))


if __name__ == "__main__":
    import sys

    renew(Path(sys.argv[1]))
