"""What a cylinder holds according to the record: shares by mass, how much, and how that is known.

A contents epoch begins whenever something is put in and whenever the cylinder is emptied; readings from
before it say nothing about what is in it now.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

UNKNOWN: Final = "unknown"
"""Stands for the share of the contents that nobody can name."""
SINGLE_SHARE: Final = 0.995
"""Above it, contents count as one refrigerant: the reclaim standard allows 0.5 % of others by mass
(40 CFR 82 subpart F App. A1)."""
EMPTY_KG: Final = 0.005
"""Below what a trade scale shows, a cylinder is called empty (practice)."""
Basis = Literal["record", "claim", "none"]


@dataclass(frozen=True, slots=True)
class Contents:
    """Recorded contents.

    Parameters
    ----------
    shares : mapping of str to float
        Mass fraction by designation; ``unknown`` for what nobody knows. Empty when nothing is known or
        nothing is in.
    mass_kg : float or None
        Net mass [kg]; None when never weighed.
    evacuated : bool
        Emptied and drawn to vacuum since anything was in it.
    basis : {"record", "claim", "none"}
        Whether transfers, only a label, or nothing says so.
    vapour_lost_fraction : float
        Share of the charge drawn off as vapor in this epoch [-].
    """

    shares: Mapping[str, float] = field(default_factory=dict)
    mass_kg: float | None = None
    evacuated: bool = False
    basis: Basis = "none"
    vapour_lost_fraction: float = 0.0

    @property
    def is_empty(self) -> bool:
        """Evacuated, or nothing left on the scale."""
        return self.evacuated or (self.mass_kg is not None and self.mass_kg <= EMPTY_KG)

    @property
    def designation(self) -> str | None:
        """The one refrigerant that it holds; None when mixed, unknown or empty."""
        if self.is_empty:
            return None
        main = max(self.shares.items(), key=lambda item: item[1], default=(UNKNOWN, 1.0))
        return main[0] if main[0] != UNKNOWN and main[1] >= SINGLE_SHARE else None

    @property
    def last_designation(self) -> str | None:
        """What was in it last, when that was one refrigerant, even if it is empty now."""
        known = [name for name, share in self.shares.items() if share >= SINGLE_SHARE and name != UNKNOWN]
        return known[0] if known else None

    @property
    def is_mixed(self) -> bool:
        """More than one refrigerant went in."""
        return not self.is_empty and len(self.shares) > 1 and self.designation is None

    @property
    def is_unknown(self) -> bool:
        """Something may be in it and nobody knows what."""
        return not self.is_empty and (not self.shares or UNKNOWN in self.shares)

    def put_in(self, designation: str | None, mass_kg: float) -> "Contents":
        """Contents after a mass [kg] of a designation (None: unknown) went in, computed by mass."""
        name = designation or UNKNOWN
        held = 0.0 if self.is_empty else (self.mass_kg or 0.0)
        before = {} if self.is_empty else (dict(self.shares) or {UNKNOWN: 1.0})
        total = held + mass_kg
        masses = {key: share * held for key, share in before.items()}
        masses[name] = masses.get(name, 0.0) + mass_kg
        shares = {key: mass / total for key, mass in masses.items() if total > 0.0}
        return Contents(shares, total, False, "record")

    def take_out(self, mass_kg: float, *, as_vapour: bool = False) -> "Contents":
        """Contents after a mass [kg] came out; the shares stay, vapor drawn is remembered as lost."""
        if self.mass_kg is None:
            return self
        held = self.mass_kg
        left = max(0.0, held - mass_kg)
        lost = self.vapour_lost_fraction
        if as_vapour and held > 0.0:
            lost = 1.0 - (1.0 - lost) * left / held
        return replace(self, mass_kg=left, vapour_lost_fraction=lost)

    def weighed(self, net_mass_kg: float) -> "Contents":
        """Contents after weighing: the scale replaces the reckoned mass [kg]."""
        return replace(self, mass_kg=net_mass_kg)

    def evacuate(self) -> "Contents":
        """Contents after the cylinder was emptied and drawn to vacuum."""
        return replace(self, mass_kg=0.0, evacuated=True, basis="record", vapour_lost_fraction=0.0)
