"""Small made-up tables in the shape of the real ones: straight lines of ln P against 1/T through two points.

Boiling points and 25 °C pressures are near the real ones, so that the cases read naturally; nothing here is
thermodynamic data.
"""

from __future__ import annotations

import numpy as np

from service.refrigerants.surfaces import DenseFluids

# designation: boiling point [°C], at 25 °C pressure [kPa], liquid and vapor density [kg/m3]; glide
FLUIDS = {
    "R-12": (-29.8, 651.0, 1311.0, 36.8, 0.0),
    "R-22": (-40.8, 1044.0, 1190.7, 44.2, 0.0),
    "R-32": (-51.7, 1689.6, 961.0, 47.3, 0.0),
    "R-123": (27.8, 91.4, 1463.9, 5.9, 0.0),
    "R-134a": (-26.1, 665.4, 1206.7, 32.4, 0.0),
    "R-290": (-42.1, 952.0, 492.4, 20.6, 0.0),
    "R-404A": (-46.2, 1254.6, 1044.0, 65.0, 0.012),
    "R-407C": (-43.6, 1190.3, 1134.0, 43.8, 0.15),
    "R-410A": (-51.4, 1657.4, 1059.0, 66.0, 0.003),
    "R-454B": (-50.5, 1575.0, 985.0, 52.0, 0.03),
    "R-507A": (-46.7, 1286.0, 1045.0, 67.0, 0.0),
    "R-1234yf": (-29.5, 682.7, 1092.0, 37.9, 0.0),
}
CONTAMINANTS = ("R-22", "R-134a", "R-410A", "R-404A", "R-407C", "R-12", "R-32", "R-1234yf")
NODES_K = np.linspace(233.15, 333.15, 6)
LOW_K, HIGH_K = 233.15, 333.15


class SyntheticCurves:
    designations = tuple(FLUIDS)
    relative_uncertainty = np.array([0.003 if f[4] else 0.0015 for f in FLUIDS.values()])

    def __init__(self) -> None:
        rows = [(t + 273.15, np.log(101.325e3), np.log(p * 1e3)) for t, p, *_ in FLUIDS.values()]
        self._slope = np.array([(hot - cold) / (1 / tb - 1 / 298.15) for tb, cold, hot in rows])
        self._level = np.array([hot for _, _, hot in rows]) + self._slope / 298.15
        self._glide = np.array([f[4] for f in FLUIDS.values()])

    def index(self, designation: str) -> int:
        return self.designations.index(designation)

    def temp_range_k(self, designation: str) -> tuple[float, float]:
        return LOW_K, HIGH_K

    def log_bubble_pressure(self, temp_k):
        temp = np.asarray(temp_k, dtype=float)
        inside = (temp >= LOW_K - 1e-9) & (temp <= HIGH_K + 1e-9)
        return np.where(inside, self._level[:, None] - self._slope[:, None] / temp, np.nan)

    def log_dew_pressure(self, temp_k):
        return self.log_bubble_pressure(temp_k) - self._glide[:, None]

    def bubble_pressure_pa(self, designation, temp_k):
        return np.exp(self.log_bubble_pressure(np.atleast_1d(temp_k)))[self.index(designation)]

    def bubble_temps_k(self, pressure_pa):
        return self._slope[:, None] / (self._level[:, None] - np.log(np.atleast_1d(pressure_pa)))

    def log_liquid_density(self, temp_k):
        temp = np.asarray(temp_k, dtype=float)
        return np.log([f[2] * (1 - 0.0032 * (temp - 298.15)) for f in FLUIDS.values()])

    def log_vapour_density(self, temp_k):
        temp = np.asarray(temp_k, dtype=float)
        above = self.log_dew_pressure(temp) - self.log_dew_pressure(np.array([298.15]))
        # 0.8 of an ideal gas's volume at 25 °C, nearer to one when thin.
        factor = np.maximum(1 - 0.2 * np.exp(above / 2), 0.5)
        home = np.log([f[3] for f in FLUIDS.values()])
        return home[:, None] + above - np.log(temp / 298.15 * factor / 0.8)

    def liquid_density_kg_m3(self, designation, temp_k):
        return np.exp(self.log_liquid_density(temp_k))[self.index(designation)]

    def vapour_density_kg_m3(self, designation, temp_k):
        return np.exp(self.log_vapour_density(temp_k))[self.index(designation)]


NO_GASES = DenseFluids((), NODES_K, np.empty((0, 2)), np.empty((0, 2, NODES_K.size), dtype=np.float32))


class SyntheticSurfaces:
    temp_nodes_k = NODES_K
    fill_nodes = np.array([0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.85, 0.95])
    loss_nodes = np.array([0.02, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7])
    contaminants = CONTAMINANTS
    share_nodes = np.array([0.005, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5])

    def __init__(self) -> None:
        glide = np.array([f[4] for f in FLUIDS.values()])
        shape = -np.exp(-self.fill_nodes / 0.12)
        self.fill = glide[:, None, None] * 0.7 * shape[:, None] * np.ones(NODES_K.size)
        loss = -0.75 * glide[:, None] * self.loss_nodes
        self.loss = np.where(glide[:, None, None] > 0, loss[:, :, None] * np.ones(NODES_K.size), np.nan)
        w = self.share_nodes
        bend = 0.06 * w * (1 - w)
        self.mixture = np.broadcast_to(
            bend[:, None], (len(FLUIDS), len(CONTAMINANTS), w.size, NODES_K.size)
        ).copy()
        r410a, r32 = list(FLUIDS).index("R-410A"), CONTAMINANTS.index("R-32")
        self.mixture[r410a, r32] = 0.0
        r134a, yf = list(FLUIDS).index("R-134a"), CONTAMINANTS.index("R-1234yf")
        self.mixture[r134a, yf] = (0.2 * w * (1 - w))[:, None]
        self.mixture_uncertainty = np.full((len(FLUIDS), len(CONTAMINANTS)), 0.01)
        self.air_solubility = np.full(len(FLUIDS), 0.6)
        self.dense = NO_GASES

    def temp_weights(self, temp_k):
        x = 1 / np.asarray(temp_k, dtype=float)
        nodes = 1 / self.temp_nodes_k
        weights = np.ones((nodes.size, x.size))
        for i in range(nodes.size):
            for j in range(nodes.size):
                if i != j:
                    weights[i] *= (x - nodes[j]) / (nodes[i] - nodes[j])
        return weights
