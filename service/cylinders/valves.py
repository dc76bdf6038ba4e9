"""What comes out of which valve: by the mark on the valve and the way the cylinder stands, never by its color.

A valve marked ``liquid`` has a tube that reaches to the bottom of an upright cylinder, one marked ``vapour``
ends at the top (practice of the trade). Colors of hand wheels mean nothing: makers do not agree.
"""

from typing import Final, Literal

Valve = Literal["vapour", "liquid"]
Position = Literal["upright", "inverted"]
Phase = Literal["vapour", "liquid"]

_PHASE: Final[dict[tuple[str, str], Phase]] = {
    ("vapour", "upright"): "vapour",
    ("vapour", "inverted"): "liquid",
    ("liquid", "upright"): "liquid",
    ("liquid", "inverted"): "vapour",
}


def phase_drawn(valve: Valve, position: Position = "upright") -> Phase:
    """What leaves through a valve of a cylinder that stands upright or on its head."""
    return _PHASE[valve, position]
