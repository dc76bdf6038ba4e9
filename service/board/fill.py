"""The cylinder's drawing: liquid to scale, and the marks that it must stay under."""

from dataclasses import dataclass

from service.board.quantities import SPACE

BOTTOM_Y, TOP_Y = 90.0, 22.0  # inside of the vessel in the drawing's units, full to empty
HEIGHT = BOTTOM_Y - TOP_Y


@dataclass(frozen=True, slots=True)
class Fill:
    """Liquid share of the volume and the limit, both to scale, None where not known; whether it is overfull."""

    liquid_fraction: float | None
    limit_fraction: float | None
    over: bool = False

    @property
    def surface_y(self) -> float | None:
        """Height of the liquid's surface in the drawing."""
        return level_y(self.liquid_fraction)

    @property
    def limit_y(self) -> float | None:
        """Height of the limit's mark in the drawing."""
        return level_y(self.limit_fraction)

    @property
    def words(self) -> str:
        """The drawing in words."""
        if self.liquid_fraction is None:
            return "fill not known: no weight"
        text = f"{self.liquid_fraction * 100:.0f}{SPACE}% full"
        if self.limit_fraction is not None:
            text += f", limit {self.limit_fraction * 100:.0f}{SPACE}%"
        return text + (": OVERFULL" if self.over else "")


def level_y(fraction: float | None) -> float | None:
    """Give the drawing height of a liquid fraction, held between empty and full."""
    if fraction is None:
        return None
    return BOTTOM_Y - min(max(fraction, 0.0), 1.0) * HEIGHT
