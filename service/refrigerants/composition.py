"""What a mixture is made of: component designations and mole fractions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Composition:
    """A mixture of pure components by mole fraction [-]; fractions sum to one."""

    components: tuple[str, ...]
    mole_fractions: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what is not a composition.

        Raises
        ------
        ValueError
            If lengths differ, a fraction is not positive, or they do not sum to one.
        """
        if len(self.components) != len(self.mole_fractions) or not self.components:
            raise ValueError(f"{self.components}, {self.mole_fractions}: expected equal lengths, not empty")
        if min(self.mole_fractions) <= 0 or abs(sum(self.mole_fractions) - 1) > 1e-9:
            raise ValueError(f"mole fractions {self.mole_fractions}: expected positive and summing to one")

    @property
    def is_pure(self) -> bool:
        """Whether there is one component only."""
        return len(self.components) == 1


def from_mass(mass_fractions: Mapping[str, float], molar_mass_kg_mol: Mapping[str, float]) -> Composition:
    """Convert mass fractions to a composition.

    Parameters
    ----------
    mass_fractions : Mapping[str, float]
        Mass fraction by component, [-]; normalised here, zero shares are dropped.
    molar_mass_kg_mol : Mapping[str, float]
        Molar mass by component, [kg/mol].

    Returns
    -------
    Composition
        Mole fractions in the order given.
    """
    moles = {name: w / molar_mass_kg_mol[name] for name, w in mass_fractions.items() if w > 0}
    return normalised(tuple(moles), tuple(moles.values()))


def normalised(components: Sequence[str], amounts: Sequence[float]) -> Composition:
    """Make a composition of amounts of substance, [mol] or any unit in common.

    Parameters
    ----------
    components : Sequence[str]
        Component designations.
    amounts : Sequence[float]
        Amount of each, positive, [mol].

    Returns
    -------
    Composition
        The amounts divided by their sum.
    """
    total = sum(amounts)
    return Composition(tuple(components), tuple(amount / total for amount in amounts))


def mixed_mass_fractions(
    first: Mapping[str, float], second: Mapping[str, float], share_of_second: float
) -> dict[str, float]:
    """Mix two refrigerants by mass.

    Parameters
    ----------
    first : Mapping[str, float]
        Mass fraction by component of the one, [-].
    second : Mapping[str, float]
        Mass fraction by component of the other, [-].
    share_of_second : float
        Mass fraction of the second refrigerant in the mixture, [-].

    Returns
    -------
    dict[str, float]
        Mass fraction by component of the mixture, common components merged, [-].
    """
    mixture = {name: w * (1 - share_of_second) for name, w in first.items()}
    for name, w in second.items():
        mixture[name] = mixture.get(name, 0.0) + w * share_of_second
    return mixture
