"""Device names as people can say them: an RFC 9039 ``urn:dev:`` name is too long for a sentence."""

from typing import Final

_PREFIX: Final = "urn:dev:"
_NUMBERED: Final = ("ops", "os", "org")
"""Forms whose first part is the number of an enterprise: ``urn:dev:ops:32473-gauge-7`` (RFC 9039, section 4)."""
_SHOWN: Final = 6


def short(name: str) -> str:
    """
    What tells a device from its neighbors.

    Parameters
    ----------
    name : str
        As in hookups.

    Returns
    -------
    str
        The owner's own part of an ``ops`` name, the last digits of an address; other names as they are.
    """
    if not name.startswith(_PREFIX):
        return name
    kind, _, body = name.removeprefix(_PREFIX).partition(":")
    if kind in _NUMBERED:
        return body.partition("-")[2] or body
    return f"…{body[-_SHOWN:]}" if len(body) > 2 * _SHOWN else body or name
