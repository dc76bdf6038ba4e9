"""Phase equilibrium by the multi-fluid Helmholtz equation of state; the only importer of CoolProp.

Tables are built with it and tests compare with it. Requests never come here.

A blend's saturation flash fails in bands well below critical because the solver starts badly, so
every saturation point goes through a chain: a plain flash; steps in temperature from a cold start,
each solution the next guess; the phase envelope. Every answer is tested, because trivial roots
(two equal phases) are returned without complaint. Density-temperature inputs are never used for
mixtures: they are silently wrong in this release.

Binary pairs are global to the process and read when a state is built, so the remedies are set
before each state and never changed afterwards. A state belongs to one thread.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations
from math import exp, isfinite

import CoolProp.CoolProp as CP  # noqa: N817

from service.refrigerants.composition import Composition, normalised
from service.refrigerants.fluids import FLUIDS
from service.refrigerants.pair_remedies import REPLACED, remedy_for
from service.refrigerants.roots import MIN_DENSITY_RATIO, is_trustworthy
from service.refrigerants.two_phase import NoConvergence, TwoPhase, envelope_points

__all__ = ["EquationOfState", "NoConvergence", "TwoPhase"]

_SUBSTITUTIONS = 200
"""Most steps of successive substitution before a flash is given up (a choice)."""
_SUBSTITUTION_TOLERANCE = 1e-10
"""The substitution has converged once no mole fraction of the larger phase moves by more (a choice) [-]."""
_STARTS_K = (273.15, 253.15, 233.15, 213.15, 193.15)
"""From where a saturation point is stepped to, warmer ones first (0 to -80 °C; a choice) [K]."""


def version() -> str:
    """Version of CoolProp in use."""
    return str(CP.get_global_param_string("version"))


def predefined_blends() -> Iterator[str]:
    """Yield the names of the predefined refrigerant blends, such as ``R410A``; some lack a component."""
    for name in sorted(CP.get_global_param_string("predefined_mixtures").split(",")):
        if name.startswith("R") and name.endswith(".mix"):
            yield name.removesuffix(".mix")


def predefined_mass_fractions(name: str) -> dict[str, float]:
    """Look up a predefined blend, such as ``R410A``.

    Parameters
    ----------
    name : str
        Name without hyphen or suffix.

    Returns
    -------
    dict[str, float]
        Mass fraction by component designation, in the order of the definition, [-].

    Raises
    ------
    NoConvergence
        If a component has no equation of state.
    """
    for first, second in combinations(FLUIDS, 2):
        _supply_pair(first, second)
    try:
        state = CP.AbstractState("HEOS", f"{name}.mix")
    except ValueError as error:
        raise NoConvergence(f"{name}: {error}") from error
    designations = {fluid.model_name.upper(): fluid.designation for fluid in FLUIDS.values()}
    names = [designations[fluid.upper()] for fluid in state.fluid_names()]
    return dict(zip(names, state.get_mass_fractions(), strict=True))


@cache
def molar_mass_kg_mol(component: str) -> float:
    """Molar mass of a pure component, [kg/mol]."""
    return float(CP.PropsSI("molar_mass", FLUIDS[component].model_name))


@cache
def temp_limits_k(component: str) -> tuple[float, float]:
    """Lowest temperature of the equation and critical temperature of a component, [K]."""
    state = CP.AbstractState("HEOS", FLUIDS[component].model_name)
    return float(max(state.Tmin(), state.Ttriple())), float(state.T_critical())


@cache
def _wilson_constants(component: str) -> tuple[float, float, float]:
    name = FLUIDS[component].model_name
    state = CP.AbstractState("HEOS", name)
    return float(state.p_critical()), float(state.T_critical()), float(CP.PropsSI("acentric", name))


def wilson_pressure_pa(component: str, temp_k: float) -> float:
    """Estimate a component's vapor pressure [Pa] at temp_k [K], also above its critical point.

    Wilson's correlation: Pc exp(5.373 (1 + acentric factor) (1 - Tc/T)).
    """
    critical_pa, critical_k, acentric = _wilson_constants(component)
    return critical_pa * exp(5.373 * (1 + acentric) * (1 - critical_k / temp_k))


@cache
def cas_number(component: str) -> str:
    """CAS registry number of a pure component."""
    return str(CP.get_fluid_param_string(FLUIDS[component].model_name, "CAS"))


def is_shipped(first: str, second: str) -> bool:
    """Whether the binary pair of two components comes with CoolProp itself."""
    return _is_shipped(frozenset((first, second)))


@cache
def _is_shipped(pair: frozenset[str]) -> bool:
    # Cached because the answer must be the one from before a remedy was set.
    try:
        CP.get_mixture_binary_pair_data(*_ordered_cas(pair), "BibTeX")
    except ValueError:
        return False
    return True


def _ordered_cas(pair: frozenset[str]) -> tuple[str, str]:
    """Return the CAS numbers in the order of the store; the other order would invert the betas."""
    first, second = sorted(cas_number(component) for component in pair)
    return first, second


@cache
def _supply_pair(first: str, second: str) -> None:
    pair = frozenset((first, second))
    shipped = _is_shipped(pair)
    if pair not in REPLACED and shipped:
        return
    remedy = REPLACED.get(pair) or remedy_for(first, second)
    ordered = _ordered_cas(pair)
    CP.set_config_bool(CP.OVERWRITE_BINARY_INTERACTION, True)
    CP.apply_simple_mixing_rule(*ordered, "linear")
    for name, value in (("betaT", 1.0), ("gammaT", remedy.gamma_t), ("betaV", 1.0), ("gammaV", 1.0)):
        CP.set_mixture_binary_pair_data(*ordered, name, value)


class EquationOfState:
    """Phase equilibrium of one composition.

    Parameters
    ----------
    composition : Composition
        Components and mole fractions; may be replaced with ``set_mole_fractions``.
    """

    def __init__(self, composition: Composition) -> None:
        for first, second in combinations(composition.components, 2):
            _supply_pair(first, second)
        self.composition = composition
        names = "&".join(FLUIDS[name].model_name for name in composition.components)
        self._state = CP.AbstractState("HEOS", names)
        self._pure = composition.is_pure
        self._phase = _SinglePhase(composition.components)
        if not self._pure:
            self._state.set_mole_fractions(list(composition.mole_fractions))
        self._envelope: list[TwoPhase] | None = None

    def set_mole_fractions(self, mole_fractions: tuple[float, ...]) -> None:
        """Go on with other fractions of the same components, [-]."""
        self.composition = Composition(self.composition.components, mole_fractions)
        if not self._pure:
            self._state.set_mole_fractions(list(mole_fractions))
        self._envelope = None

    @property
    def molar_mass_kg_mol(self) -> float:
        """Molar mass of the mixture, [kg/mol]."""
        pairs = zip(self.composition.components, self.composition.mole_fractions, strict=True)
        return sum(molar_mass_kg_mol(name) * x for name, x in pairs)

    def critical_temp_k(self) -> float:
        """Critical temperature of a pure fluid, highest temperature of a blend's envelope, [K]."""
        if self._pure:
            return temp_limits_k(self.composition.components[0])[1]
        return max((point.temp_k for point in self._phase_envelope()), default=float("inf"))

    def bubble(self, temp_k: float, near: TwoPhase | None = None) -> TwoPhase:
        """Solve the bubble point; see ``saturation``."""
        return self.saturation(temp_k, 0.0, near)

    def dew(self, temp_k: float, near: TwoPhase | None = None) -> TwoPhase:
        """Solve the dew point; see ``saturation``."""
        return self.saturation(temp_k, 1.0, near)

    def saturation(self, temp_k: float, quality: float, near: TwoPhase | None = None) -> TwoPhase:
        """Solve a saturation point by the chain.

        Parameters
        ----------
        temp_k : float
            Temperature, [K].
        quality : float
            0 for bubble, 1 for dew, [-].
        near : TwoPhase, optional
            A solution within a few kelvin, or a few percent of composition, tried first as guess.

        Returns
        -------
        TwoPhase
            The first answer of the chain that passes the tests.

        Raises
        ------
        NoConvergence
            If no method finds a trustworthy answer.
        """
        if near is not None and (found := self._guessed(temp_k, quality, near, "stepping")):
            return found
        if found := self._plain(temp_k, quality):
            return found
        if not self._pure:
            for step_k in (5.0, 1.0):
                if found := self._stepped(temp_k, quality, step_k):
                    return found
            if found := self._from_envelope(temp_k, quality):
                return found
        raise NoConvergence(f"{self.composition}: no saturation at {temp_k} K, quality {quality}")

    def at_quality(self, temp_k: float, quality: float) -> TwoPhase:
        """Flash to a temperature and a vapor quality.

        Parameters
        ----------
        temp_k : float
            Temperature, [K].
        quality : float
            Moles of vapor per mole, 0 to 1, [-].

        Returns
        -------
        TwoPhase
            Both phases in equilibrium.

        Raises
        ------
        NoConvergence
            If the flash fails.
        """
        if quality in (0.0, 1.0) or self._pure:
            return replace(self.saturation(temp_k, float(round(quality))), quality=quality)
        return self._plain(temp_k, quality) or self._by_substitution(temp_k, quality)

    def _by_substitution(self, temp_k: float, quality: float) -> TwoPhase:
        """Find the larger phase, at its own saturation point, that adds up to the bulk with the other."""
        side = float(quality > 0.5)
        phase = EquationOfState(self.composition)
        state = phase.saturation(temp_k, side)
        for _ in range(_SUBSTITUTIONS):
            known = state.vapour if side else state.liquid
            amounts = [
                z * (y if side else x) / (x + quality * (y - x))
                for z, x, y in zip(self.composition.mole_fractions, state.liquid, state.vapour, strict=True)
            ]
            composition = normalised(self.composition.components, amounts)
            moved = max(abs(a - b) for a, b in zip(composition.mole_fractions, known, strict=True))
            if moved < _SUBSTITUTION_TOLERANCE:
                return replace(state, quality=quality, method="substitution")
            phase.set_mole_fractions(composition.mole_fractions)
            state = phase.saturation(temp_k, side, state)
        raise NoConvergence(f"{self.composition}: no flash at {temp_k} K, quality {quality}")

    def single_phase_pressure_pa(self, temp_k: float, density_mol_m3: float) -> float:
        """Pressure of one phase, [Pa], at temp_k [K] and density [mol/m^3]; it may be metastable."""
        return self._phase.pressure_pa(self.composition.mole_fractions, density_mol_m3, temp_k)

    def _plain(self, temp_k: float, quality: float) -> TwoPhase | None:
        try:
            self._state.update(CP.QT_INPUTS, quality, temp_k)
        except ValueError:
            return None
        return self._tested(temp_k, quality, "plain")

    def _guessed(self, temp_k: float, quality: float, near: TwoPhase, method: str) -> TwoPhase | None:
        if self._pure:
            return None
        guess = CP.PyGuessesStructure()
        guess.T, guess.p = near.temp_k, near.pressure_pa
        guess.rhomolar_liq, guess.rhomolar_vap = near.liquid_density_mol_m3, near.vapour_density_mol_m3
        # The solver takes the bulk phase from the guess, not from the state.
        bulk = list(self.composition.mole_fractions)
        guess.x = bulk if quality == 0 else list(near.liquid)
        guess.y = list(near.vapour) if quality == 0 else bulk
        try:
            self._state.update_with_guesses(CP.QT_INPUTS, quality, temp_k, guess)
        except ValueError:
            return None
        return self._tested(temp_k, quality, method)

    def _tested(self, temp_k: float, quality: float, method: str) -> TwoPhase | None:
        state = self._state
        pressure = float(state.p())
        liquid = float(state.saturated_liquid_keyed_output(CP.iDmolar))
        vapour = float(state.saturated_vapor_keyed_output(CP.iDmolar))
        finite = all(map(isfinite, (pressure, liquid, vapour))) and pressure > 0 and vapour > 0
        if not finite:
            return None
        if self._pure:
            answer = TwoPhase(temp_k, pressure, quality, liquid, vapour, (1.0,), (1.0,), method)
            return answer if liquid >= MIN_DENSITY_RATIO * vapour else None
        x, y = tuple(state.mole_fractions_liquid()), tuple(state.mole_fractions_vapor())
        answer = TwoPhase(temp_k, pressure, quality, liquid, vapour, x, y, method)
        return answer if is_trustworthy(answer, self.composition, self._phase) else None

    def _stepped(self, temp_k: float, quality: float, step_k: float) -> TwoPhase | None:
        for start_k in _STARTS_K:
            if start_k >= temp_k:
                continue
            here = self._plain(start_k, quality)
            while here is not None and here.temp_k < temp_k:
                here = self._guessed(min(here.temp_k + step_k, temp_k), quality, here, "stepping")
            if here is not None:
                return here
        return None

    def _from_envelope(self, temp_k: float, quality: float) -> TwoPhase | None:
        branch = [point for point in self._phase_envelope() if point.quality == quality]
        if not branch:
            return None
        nearest = min(branch, key=lambda point: abs(point.temp_k - temp_k))
        return self._guessed(temp_k, quality, nearest, "envelope")

    def _phase_envelope(self) -> list[TwoPhase]:
        if self._envelope is None:
            try:
                self._state.build_phase_envelope("")
                self._envelope = envelope_points(self._state.get_phase_envelope_data())
            except ValueError:
                self._envelope = []
        return self._envelope


class _SinglePhase:
    """Evaluates one phase of the components (``roots.PhaseModel``)."""

    def __init__(self, components: tuple[str, ...]) -> None:
        self._components = components
        self._state = CP.AbstractState("HEOS", "&".join(FLUIDS[name].model_name for name in components))
        # Only spares the search for a phase: all here follows from density and temperature.
        self._state.specify_phase(CP.iphase_gas)

    def pressure_pa(self, fractions: Sequence[float], density_mol_m3: float, temp_k: float) -> float:
        return float(self._at(fractions, density_mol_m3, temp_k).p())

    def stiffness(self, fractions: Sequence[float], density_mol_m3: float, temp_k: float) -> float:
        state = self._at(fractions, density_mol_m3, temp_k)
        return float(state.first_partial_deriv(CP.iP, CP.iDmolar, CP.iT))

    def fugacities_pa(
        self, fractions: Sequence[float], density_mol_m3: float, temp_k: float
    ) -> Sequence[float]:
        state = self._at(fractions, density_mol_m3, temp_k)
        return [float(state.fugacity(i)) for i in range(len(self._components))]

    def reducing_density_mol_m3(self, fractions: Sequence[float]) -> float:
        self._state.set_mole_fractions(list(fractions))
        return float(self._state.rhomolar_reducing())

    def raoult_pressure_pa(self, fractions: Sequence[float], temp_k: float) -> float:
        pure = (wilson_pressure_pa(name, temp_k) for name in self._components)
        return sum(p * x for p, x in zip(pure, fractions, strict=True))

    def _at(self, fractions: Sequence[float], density_mol_m3: float, temp_k: float) -> CP.AbstractState:
        if len(self._components) > 1:
            self._state.set_mole_fractions(list(fractions))
        self._state.update(CP.DmolarT_INPUTS, density_mol_m3, temp_k)
        return self._state
