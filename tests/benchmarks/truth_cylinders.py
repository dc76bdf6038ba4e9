"""Cylinders drawn from the priors, with true pressures by direct flashes, and instruments that read them.

Nature may differ from the equation of state by as much as the curve's stated uncertainty says: every cylinder
draws one such difference. `Instrument` fields are standard uncertainties.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, log

import numpy as np

from service.refrigerants.catalogue import Catalogue
from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.cylinder_state import after_vapour_loss, at_liquid_fraction, closed_cylinder
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.verdict import quadrature_grids
from service.verdict.hypotheses import NEGLIGIBLE_SHIFT_K, HypothesisSpace
from service.verdict.model import Pair
from service.verdict.priors import Priors
from tests.benchmarks.flashes import drawn_of_three, three_mixed

HOME_K = 298.15
START_FILL = 0.8
OF_THREE = 0.015
"""How far nature may be from the equation of state in a mixture of three (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """A thermometer and a gauge: biases are drawn once per cylinder, noise once per reading."""

    name: str
    temp_bias_k: float
    gain_bias: float
    zero_bias_pa: float
    pairs: int
    temp_noise_k: float = 0.05
    noise_pa: float = 300.0


INSTRUMENTS = (
    Instrument("one pair, 0.56 K, 1 % + 7 kPa", 0.56, 0.01, 7e3, 1),
    Instrument("one pair, 0.3 K, 0.5 % + 1 kPa", 0.3, 0.005, 1e3, 1),
    Instrument("one pair, 0.1 K, 0.25 % + 0.3 kPa", 0.1, 0.0025, 300.0, 1),
    Instrument("two pairs 15 K apart, 0.3 K, 0.5 % + 1 kPa", 0.3, 0.005, 1e3, 2),
    Instrument("two pairs 15 K apart, 0.1 K, 0.25 % + 0.3 kPa", 0.1, 0.0025, 300.0, 2),
)


@dataclass(slots=True)
class Cylinder:
    """The truth: designation, state, amount, and the pressure at each temperature [K], [Pa]."""

    designation: str
    state: str
    temps_k: np.ndarray
    pressures_pa: np.ndarray
    partner: str | None = None
    amount: float = 0.0
    fill: float = 0.5
    label: str = ""
    extra: dict[str, float] = field(default_factory=dict)


class Nature:
    """Draws cylinders and solves their pressures with the equation of state."""

    def __init__(
        self,
        catalogue: Catalogue,
        space: HypothesisSpace,
        names: tuple[str, ...],
        mixing: np.ndarray,
        met: np.ndarray,
    ) -> None:
        self.catalogue, self.space, self.names = catalogue, space, names
        self.mixing, self.met = mixing, met
        self._equations: dict[str, EquationOfState] = {}

    def draw(self, rng: np.random.Generator, priors: Priors, reliability: float) -> Cylinder | None:
        """One cylinder; None where the equation of state does not answer (drawn again by the caller)."""
        at = [self.space.designations.index(name) for name in self.names]
        weights = priors.designation[at] / priors.designation[at].sum()
        name = self.names[int(rng.choice(len(at), p=weights))]
        index = self.space.designations.index(name)
        states = ("none", "air", "shifted", "mixed", "vapour-only")
        shares = np.array([priors.state(state)[index] for state in states])
        state = states[int(rng.choice(len(states), p=shares / shares.sum()))]
        first = rng.uniform(283.15, 303.15)
        temps = np.array([first, first + 15.0])
        cylinder = Cylinder(name, state, temps, np.empty(2), fill=_fill(rng))
        truthful = rng.random() < reliability
        cylinder.label = name if truthful else self.names[int(rng.choice(len(at), p=weights))]
        try:
            pressures = self._pressures(rng, cylinder, priors)
        except NoConvergence:
            return None
        error = self._curve_error(cylinder) * rng.standard_normal()
        cylinder.extra["curve_error"] = error
        cylinder.pressures_pa = pressures * exp(error)
        return cylinder

    def equation(self, name: str) -> EquationOfState:
        """The equation of one designation, with its nominal composition."""
        if name not in self._equations:
            self._equations[name] = EquationOfState(composition_of(self.catalogue[name]))
        return self._equations[name]

    def _pressures(self, rng: np.random.Generator, cylinder: Cylinder, priors: Priors) -> np.ndarray:
        if cylinder.state == "mixed" and rng.random() < priors.several:
            return self._of_three(rng, cylinder)
        if cylinder.state == "mixed":
            row = priors.partner[self.space.designations.index(cylinder.designation)]
            cylinder.partner = self.space.contaminants[int(rng.choice(row.size, p=row / row.sum()))]
            low, high = quadrature_grids.SHARE_RANGE
            cylinder.amount = exp(rng.uniform(log(low), log(high)))
            return self.mixture(cylinder.designation, cylinder.partner, cylinder.amount, cylinder.temps_k)
        if cylinder.state == "shifted":
            cylinder.amount = rng.uniform(*quadrature_grids.LOSS_RANGE)
            if self._hardly_moved(cylinder.designation, cylinder.amount):
                cylinder.state = "none"
            return self.shifted(cylinder.designation, cylinder.amount, cylinder.temps_k)
        if cylinder.state == "air":
            cylinder.amount = rng.exponential(quadrature_grids.MEAN_AIR_PA)
            solubility = max(0.2, rng.normal(0.6, 0.15))
            return self.with_air(cylinder, cylinder.amount, solubility, _oil(rng, cylinder, priors))
        name = cylinder.designation
        if cylinder.state == "vapour-only":
            cylinder.amount = _vapour_share(rng)
            density = self.density_of_vapour(name, cylinder.amount)
        else:
            density = self.density_when_filled(name, cylinder.fill)
        pressures, fills = self.closed(name, density, cylinder.temps_k)
        if fills.max() > 0.0 >= fills.min():
            raise NoConvergence(f"{name}: wet at one temperature and dry at the other")
        cylinder.state = "none" if fills.max() > 0.0 else "vapour-only"
        cylinder.extra["density"] = density
        return pressures * (1.0 - _oil(rng, cylinder, priors) if cylinder.state == "none" else 1.0)

    def _of_three(self, rng: np.random.Generator, cylinder: Cylinder) -> np.ndarray:
        """Bubble pressure with two others in it; without a partner of its own."""
        names, cylinder.amount, split = drawn_of_three(
            rng, cylinder.designation, self.space.contaminants, self.met
        )
        others = (self.catalogue[names[0]], self.catalogue[names[1]])
        composition = three_mixed(self.catalogue[cylinder.designation], others, cylinder.amount, split)
        equation = EquationOfState(composition)
        return np.array([equation.bubble(float(temp)).pressure_pa for temp in cylinder.temps_k])

    def closed(self, name: str, density: float, temps_k: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Pressures [Pa] and liquid volume fractions, 0 once dry, at an overall density [kg/m3]."""
        pressures, fills = [], []
        for temp in temps_k:
            found = closed_cylinder(self.equation(name), float(temp), density)
            if found.contents == "liquid-full":
                raise NoConvergence(f"{name}: liquid-full at {temp} K")
            pressures.append(found.pressure_pa)
            fills.append(found.equilibrium.liquid_volume_fraction if found.equilibrium else 0.0)
        return np.array(pressures), np.array(fills)

    def density_when_filled(self, name: str, fill: float) -> float:
        """Mass over volume [kg/m3] of a cylinder filled to a liquid volume fraction at 25 °C."""
        home = at_liquid_fraction(self.equation(name), HOME_K, fill)
        return self.equation(name).molar_mass_kg_mol / home.molar_volume_m3

    def density_of_vapour(self, name: str, share: float) -> float:
        """Mass over volume [kg/m3] of vapor at a share of the dew pressure at 25 °C."""
        equation = self.equation(name)
        home = min(HOME_K, equation.critical_temp_k() - 5)
        dew = equation.dew(home)
        low, high = 0.0, dew.vapour_density_mol_m3
        for _ in range(50):
            middle = (low + high) / 2
            below = equation.single_phase_pressure_pa(home, middle) < share * dew.pressure_pa
            low, high = (middle, high) if below else (low, middle)
        return high * equation.molar_mass_kg_mol

    def with_air(
        self, cylinder: Cylinder, partial_pa: float, solubility: float, oil: float = 0.0
    ) -> np.ndarray:
        """Air's partial pressure at 25 °C, carried to each temperature with the room that it has."""
        density = self.density_when_filled(cylinder.designation, cylinder.fill)
        pressures, fills = self.closed(cylinder.designation, density, cylinder.temps_k)
        if fills.min() <= 0.0:
            raise NoConvergence(f"{cylinder.designation}: dry when warm under air")
        cylinder.extra["density"] = density
        room = 1 - fills + solubility * fills
        home = 1 - cylinder.fill + solubility * cylinder.fill
        return (1.0 - oil) * pressures + partial_pa * cylinder.temps_k / HOME_K * home / room

    def shifted(self, name: str, lost: float, temps_k: np.ndarray) -> np.ndarray:
        """Bubble pressure after a share of the mass has left as vapor."""
        equation = EquationOfState(composition_of(self.catalogue[name]))
        equation.set_mole_fractions(after_vapour_loss(equation, HOME_K, START_FILL, [lost])[0])
        return np.array([equation.bubble(float(temp)).pressure_pa for temp in temps_k])

    def _hardly_moved(self, name: str, lost: float) -> bool:
        """Whether a loss of vapor moves the saturation temperature at 25 °C by too little to be a finding."""
        pressure = float(self.shifted(name, lost, np.array([HOME_K]))[0])
        near = [self.equation(name).bubble(HOME_K + way * NEGLIGIBLE_SHIFT_K).pressure_pa for way in (-1, 1)]
        return near[0] < pressure < near[1]

    def mixture(self, name: str, partner: str, share: float, temps_k: np.ndarray) -> np.ndarray:
        """Bubble pressure of a mixture by mass."""
        composition = mixed_composition(self.catalogue[name], self.catalogue[partner], share)
        equation = EquationOfState(composition)
        return np.array([equation.bubble(float(temp)).pressure_pa for temp in temps_k])

    def _curve_error(self, cylinder: Cylinder) -> float:
        """Standard uncertainty of the curve that this cylinder follows [-]."""
        own = float(self.space.curve_uncertainty[self.space.designations.index(cylinder.designation)])
        if cylinder.partner is None:
            return float(np.hypot(own, OF_THREE)) if cylinder.state == "mixed" else own
        w = cylinder.amount
        other = float(self.space.curve_uncertainty[self.space.designations.index(cylinder.partner)])
        row = self.space.designations.index(cylinder.designation)
        pair = float(self.mixing[row, self.space.contaminants.index(cylinder.partner)])
        return float(np.sqrt(((1 - w) * own) ** 2 + (w * other) ** 2 + (4 * w * (1 - w) * pair) ** 2))


def read(rng: np.random.Generator, cylinder: Cylinder, instrument: Instrument) -> list[Pair]:
    """What the instrument shows, with the uncertainties it claims (its true ones)."""
    offset = rng.normal(0, instrument.temp_bias_k)
    gain = rng.normal(0, instrument.gain_bias)
    zero = rng.normal(0, instrument.zero_bias_pa)
    pairs = []
    for temp, pressure in zip(
        cylinder.temps_k[: instrument.pairs], cylinder.pressures_pa[: instrument.pairs], strict=True
    ):
        noise = rng.normal(0, instrument.noise_pa)
        shown = max(200.0, pressure * (1 + gain) + zero + noise)
        pairs.append(
            Pair(
                temp_k=float(temp + offset + rng.normal(0, instrument.temp_noise_k)),
                pressure_pa=float(shown),
                temp_noise_k=instrument.temp_noise_k,
                pressure_noise_pa=instrument.noise_pa,
                temp_bias_k=instrument.temp_bias_k,
                pressure_bias_pa=instrument.zero_bias_pa,
                gain_bias=instrument.gain_bias,
            )
        )
    return pairs


def _oil(rng: np.random.Generator, cylinder: Cylinder, priors: Priors) -> float:
    """Share of the pressure that dissolved oil takes: none in most."""
    if rng.random() >= priors.oil:
        return 0.0
    most = 1.0 - exp(-quadrature_grids.MOST_OIL / quadrature_grids.MEAN_OIL)
    cylinder.extra["oil"] = -quadrature_grids.MEAN_OIL * log(1.0 - most * rng.random())
    return cylinder.extra["oil"]


def _fill(rng: np.random.Generator) -> float:
    if rng.random() < quadrature_grids.OVERFILLED_SHARE:
        return float(rng.uniform(quadrature_grids.FILL_RANGE[1], 0.92))
    return float(rng.uniform(*quadrature_grids.FILL_RANGE))


def _vapour_share(rng: np.random.Generator) -> float:
    grid = quadrature_grids.vapour_grid()
    cell = int(rng.choice(grid.mass.size, p=grid.mass))
    return float(rng.uniform(grid.edges[cell], grid.edges[cell + 1]))
