"""What this machine says of itself."""

from collections.abc import Mapping
from pathlib import Path
from zoneinfo import available_timezones


def time_zone(environ: Mapping[str, str], localtime: Path = Path("/etc/localtime")) -> str:
    """Return the IANA name of this machine's time zone; UTC where it cannot be told."""
    named = environ.get("TZ", "").removeprefix(":")
    linked = str(localtime.resolve()).partition("zoneinfo/")[2]
    return next((name for name in (named, linked) if name in available_timezones()), "UTC")
