"""A certificate authority and a server certificate for one test run."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID


def make_certificates(folder: Path, host: str) -> None:
    """Write ``ca.crt``, ``tls.crt`` and ``tls.key``."""
    authority_key, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    authority = _certificate("Test authority", authority_key, "Test authority", authority_key, ca=True)
    server = _certificate(host, key, "Test authority", authority_key, ca=False)
    (folder / "ca.crt").write_bytes(authority.public_bytes(Encoding.PEM))
    (folder / "tls.crt").write_bytes(server.public_bytes(Encoding.PEM))
    (folder / "tls.key").write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


def _certificate(
    subject: str,
    key: ec.EllipticCurvePrivateKey,
    issuer: str,
    issuer_key: ec.EllipticCurvePrivateKey,
    *,
    ca: bool,
) -> x509.Certificate:
    def named(text: str) -> x509.Name:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    now = datetime.now(UTC)
    builder = (
        x509.CertificateBuilder()
        .subject_name(named(subject))
        .issuer_name(named(issuer))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.BasicConstraints(ca=ca, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(subject.replace(" ", "-"))]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    if ca:
        usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
        builder = builder.add_extension(usage, critical=True)
    return builder.sign(issuer_key, SHA256())
