"""Saturation curves for simulated cylinders: ln P = A + B/T + C ln T + D T, P in Pa, T in K.

Computed: fitted to CoolProp 8.0 bubble pressures from 243 to 333 K; residual below 0.1 %. The last three columns are
liquid density [kg/m3], heat capacity [J/(kg K)] and latent heat [J/kg] at 298.15 K.
"""

from __future__ import annotations

import math

from demo.physics import Saturated

_FITS = {
    "R-32": (110.8522, -4654.7221, -15.598254, 0.026739287, 961, 1937, 270908),
    "R-134a": (116.44259, -5305.2875, -16.248529, 0.024608742, 1207, 1425, 177788),
    "R-22": (96.491219, -4431.877, -12.973934, 0.020634159, 1191, 1257, 182739),
    "R-290": (85.191748, -3951.9104, -11.177009, 0.01848563, 492, 2719, 335736),
    "R-600a": (90.755202, -4596.8411, -11.890337, 0.017362477, 551, 2430, 328921),
    "R-1234yf": (110.67119, -4921.3569, -15.452908, 0.024529081, 1092, 1394, 145500),
    "R-125": (139.22748, -5364.8545, -20.640702, 0.035232684, 1189, 1407, 110393),
    "R-410A": (123.10426, -4959.6826, -17.765483, 0.030426762, 1059, 1708, 186479),
    "R-404A": (124.34132, -4986.9297, -18.033087, 0.030764383, 1044, 1542, 140277),
    "R-407C": (95.993161, -4405.9941, -12.877298, 0.020606764, 1138, 1534, 183307),
}
DESIGNATIONS = tuple(_FITS)


def saturated(designation: str) -> Saturated:
    """Return the contents of a cylinder that holds `designation` alone."""
    a, b, c, d, density, heat_capacity, latent = _FITS[designation]

    def log_pressure(temp_k: float) -> float:
        return a + b / temp_k + c * math.log(temp_k) + d * temp_k

    return Saturated(log_pressure, heat_capacity, latent, density)
