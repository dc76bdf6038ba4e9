"""Keep the secrets of other parties unreadable in the database and its backups."""

import base64

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF


class UnreadableSeal(ValueError):
    """The secret was sealed under another secret key, or was damaged."""


class Seal:
    """
    Authenticated encryption under a key derived from the service's secret key.

    Parameters
    ----------
    secret_key
        The one that signs sessions; the derivation (HKDF, RFC 5869) keeps the two uses apart.
    """

    def __init__(self, secret_key: str) -> None:
        derived = HKDF(SHA256(), 32, salt=None, info=b"heelmark sealed secrets").derive(
            secret_key.encode("utf-8")
        )
        self._fernet = Fernet(base64.urlsafe_b64encode(derived))

    def close(self, secret: str) -> str:
        """Seal a secret."""
        return self._fernet.encrypt(secret.encode("utf-8")).decode("ascii")

    def open(self, sealed: str) -> str:
        """
        Read a sealed secret.

        Raises
        ------
        UnreadableSeal
            It was sealed under another key, or was changed.
        """
        try:
            return self._fernet.decrypt(sealed.encode("ascii")).decode("utf-8")
        except (InvalidToken, UnicodeError):
            raise UnreadableSeal("sealed under another secret key, or damaged") from None
