"""From the height of the liquid on a standing cylinder's wall to the share of its volume."""

from dataclasses import dataclass, replace
from math import hypot, pi

USUAL_DIAMETER_M = ((12.0e-3, 0.24), (21.6e-3, 0.305), (56.7e-3, 0.37), (108.0e-3, 0.46))
"""Water volume [m3] and outer diameter [m] of recovery cylinders called 30, 50, 125 and 240 lb; from memory."""
SLENDER = 1.5
"""Height over diameter of any other cylinder (a judgement) [-]."""
_ALIKE = 0.15
"""A volume this close to that of a common cylinder is taken for it, relative (a judgement) [-]."""
WALL_M, FOOT_M = 0.003, 0.02
"""Thickness of the wall, and height of the foot ring that the shell stands on (from memory) [m]."""
READING_M, FOOT_UNCERTAINTY_M = 0.010, 0.010
"""Standard uncertainties of a height read by hand and of the foot ring (a judgement) [m]."""
MEASURED, GUESSED = 0.01, 0.05
"""Relative standard uncertainty of a diameter that was measured, and of one that was not (a judgement) [-]."""


class NoSuchCylinder(ValueError):
    """A diameter, volume or height that no standing cylinder has; the message names the value and what was expected."""


@dataclass(frozen=True, slots=True)
class Shell:
    """A standing cylinder with ellipsoidal heads half as deep as they are wide (2:1), inside measures.

    Parameters
    ----------
    volume_m3 : float
        Of water that it holds [m3].
    diameter_m : float
        Inside [m].
    """

    volume_m3: float
    diameter_m: float

    @property
    def straight_m(self) -> float:
        """Height of the part between the heads [m]."""
        return (self.volume_m3 - pi * self.diameter_m**3 / 12) / (pi * self.diameter_m**2 / 4)

    @property
    def height_m(self) -> float:
        """From the lowest to the highest point inside [m]."""
        return self.straight_m + self.diameter_m / 2

    def below(self, height_m: float) -> float:
        """Share of the volume below a height above the lowest point [-]."""
        head, top = self.diameter_m / 4, self.height_m
        at = min(max(height_m, 0.0), top)
        if at > top / 2:
            return 1.0 - self.below(top - at)
        area = pi * self.diameter_m**2 / 4
        in_head = min(at, head)
        bowl = in_head**2 / head * (1 - in_head / (3 * head))
        return area * (bowl + max(at - head, 0.0)) / self.volume_m3


def usual_diameter_m(volume_m3: float) -> float:
    """Outer diameter of the common cylinder of such a volume, else of one `SLENDER` times as high as wide [m]."""
    for usual, diameter in USUAL_DIAMETER_M:
        if abs(volume_m3 / usual - 1) < _ALIKE:
            return diameter
    return float((volume_m3 / (pi / 4 * (SLENDER - 0.5) + pi / 12)) ** (1 / 3)) + 2 * WALL_M


def liquid_fraction(
    height_m: float, volume_m3: float, diameter_m: float | None = None
) -> tuple[float, float]:
    """
    Share of the volume that is liquid.

    Parameters
    ----------
    height_m : float
        Of the liquid's surface above the floor [m].
    volume_m3 : float
        Water volume [m3].
    diameter_m : float or None
        Outer diameter; the usual one of such a cylinder if it is not known [m].

    Returns
    -------
    tuple of float
        Share and its standard uncertainty [-].

    Raises
    ------
    NoSuchCylinder
        Naming the value and what was expected.
    """
    outer = usual_diameter_m(volume_m3) if diameter_m is None else diameter_m
    shell = Shell(volume_m3, outer - 2 * WALL_M)
    if not 0.1 <= outer <= 1.5 or shell.straight_m <= 0.0:
        expected = f"the diameter of a cylinder that holds {1e3 * volume_m3:.1f} L and is higher than wide"
        raise NoSuchCylinder(f"diameter {outer:.3f} m: expected {expected}")
    inside = height_m - FOOT_M
    if not -FOOT_M <= inside <= shell.height_m + FOOT_M:
        raise NoSuchCylinder(f"height {height_m:.3f} m: expected at most {shell.height_m + FOOT_M:.2f} m")
    share = shell.below(inside)
    step = 1e-3
    by_height = (shell.below(inside + step) - shell.below(inside - step)) / (2 * step)
    wider = replace(shell, diameter_m=shell.diameter_m * 1.01)
    by_diameter = (wider.below(inside) - share) / 0.01 if wider.straight_m > 0.0 else share
    doubt = GUESSED if diameter_m is None else MEASURED
    return share, hypot(by_height * hypot(READING_M, FOOT_UNCERTAINTY_M), by_diameter * doubt)
