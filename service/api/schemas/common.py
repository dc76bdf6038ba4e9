"""Fields and converters that several nouns share."""

from typing import Any

from service.api.http.fields import LARGEST_ID, Matches, Text

SERIAL_PATTERN = r"^[A-Za-z0-9]([A-Za-z0-9 ._+:-]{0,62}[A-Za-z0-9._+-])?$"
NAME_PATTERN = r"^[^\s/+#?\x00-\x1f\x7f]([^/+#?\x00-\x1f\x7f]{0,78}[^\s/+#?\x00-\x1f\x7f])?$"
DEVICE_PATTERN = r"^[^\s/+#?\x00-\x1f\x7f]{1,120}$"
ID = f"int(min=1, max={LARGEST_ID})"
"""Path converter of an id, as in ``/hookups/<int(min=1, max=…):hookup_id>``."""


def serial(**kwargs: Any) -> Text:
    """A cylinder's serial, as stamped."""
    check = Matches(SERIAL_PATTERN, "a serial of letters, digits, blanks and . _ + : -, up to 64 characters")
    return Text(longest=64, validate=check, **kwargs)


def place_name(**kwargs: Any) -> Text:
    """A place's name; it is part of MQTT topics."""
    return Text(
        longest=80, validate=Matches(NAME_PATTERN, "a name without / + # ?, up to 80 characters"), **kwargs
    )


def device_name(**kwargs: Any) -> Text:
    """A device's name; it is part of MQTT topics."""
    check = Matches(DEVICE_PATTERN, "a name without blanks and / + # ?, up to 120 characters")
    return Text(longest=120, validate=check, **kwargs)
