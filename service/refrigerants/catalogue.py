"""Catalogue of designations: composition, class, climate figures, shipping, with their sources."""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Generic, TypeVar

T = TypeVar("T", str, float)


class UnknownRefrigerant(KeyError):
    """No designation of the catalogue reads like this."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text

    def __str__(self) -> str:
        """Name what was asked for."""
        return f"refrigerant {self.text!r}: expected a designation of the catalogue, such as R-410A"


@dataclass(frozen=True, slots=True)
class Sourced(Generic[T]):
    """A published fact, or none, with where it is from.

    ``mark`` says how it is known: ``read`` in the source named, from ``memory`` (confirm before it
    becomes a hard rule), ``computed`` here, ``inferred`` from something read, or ``unknown``; then
    ``value`` is None and ``source`` says why.
    """

    value: T | None
    source: str
    mark: str


@dataclass(frozen=True, slots=True)
class Component:
    """A pure component of a blend and its mass fraction, [-]."""

    name: str
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """One designation.

    ``safety_class`` may be unknown: whoever decides about safety must then assume the worst.
    ``relative_uncertainty`` is one sigma of the modelled saturation pressure, [-], and
    ``uncertainty_reason`` says what it is made of.
    """

    designation: str
    components: tuple[Component, ...]
    molar_mass_kg_mol: float
    model: str
    relative_uncertainty: float
    uncertainty_reason: str
    composition_source: Sourced[str]
    tolerance: Sourced[str]
    safety_class: Sourced[str]
    odp: Sourced[float]
    gwp_ar4: Sourced[float]
    gwp_ar5: Sourced[float]
    gwp_ar6: Sourced[float]
    rcl_ppm: Sourced[float]
    un_number: Sourced[str]
    shipping_name: Sourced[str]
    hazard_division: Sourced[str]
    boiling_bubble_c: Sourced[float]
    boiling_dew_c: Sourced[float]

    @property
    def is_blend(self) -> bool:
        """Whether it has more than one component."""
        return len(self.components) > 1

    @property
    def mass_fractions(self) -> dict[str, float]:
        """Mass fraction by component, [-]."""
        return {component.name: component.mass_fraction for component in self.components}


SOURCED_FIELDS = tuple(name for name, kind in Refrigerant.__annotations__.items() if "Sourced" in str(kind))
"""Fields of a refrigerant that carry a source and a mark."""


def _key(text: str) -> str:
    key = re.sub(r"[^0-9A-Z]", "", text.upper())
    return "R" + re.sub(r"^(R|HCFC|CFC|HFC|HFO|PFC|HC)(?=[0-9CE])", "", key)


class Catalogue(Mapping[str, Refrigerant]):
    """All designations, by designation, in catalogue order.

    Parameters
    ----------
    refrigerants : Mapping[str, Refrigerant]
        By designation.
    """

    def __init__(self, refrigerants: Mapping[str, Refrigerant]) -> None:
        self._by_designation = dict(refrigerants)
        self._by_key = {_key(designation): designation for designation in self._by_designation}

    def __getitem__(self, designation: str) -> Refrigerant:
        """Look up an exact designation."""
        try:
            return self._by_designation[designation]
        except KeyError:
            raise UnknownRefrigerant(designation) from None

    def __iter__(self) -> Iterator[str]:
        """Iterate over the designations."""
        return iter(self._by_designation)

    def __len__(self) -> int:
        """Count the designations."""
        return len(self._by_designation)

    @property
    def designations(self) -> tuple[str, ...]:
        """Every designation, in catalogue order."""
        return tuple(self._by_designation)

    def normalise(self, text: str) -> str:
        """Read a designation as people write it: ``r410a``, ``410A``, ``R 1234ze(e)``.

        Parameters
        ----------
        text : str
            What was written.

        Returns
        -------
        str
            The designation as the standard writes it.

        Raises
        ------
        UnknownRefrigerant
            If nothing in the catalogue reads like that.
        """
        try:
            return self._by_key[_key(text)]
        except KeyError:
            raise UnknownRefrigerant(text) from None

    def to_json(self) -> str:
        """Write the catalogue as JSON text, one designation a line."""
        lines = [json.dumps(asdict(item), ensure_ascii=False) for item in self._by_designation.values()]
        return '{"refrigerants": [\n' + ",\n".join(lines) + "\n]}\n"

    @classmethod
    def from_json(cls, text: str) -> "Catalogue":
        """Read what ``to_json`` wrote.

        Parameters
        ----------
        text : str
            JSON text.

        Returns
        -------
        Catalogue
            The same catalogue.
        """
        items = (_refrigerant(record) for record in json.loads(text)["refrigerants"])
        return cls({item.designation: item for item in items})


def _refrigerant(record: dict[str, Any]) -> Refrigerant:
    components = tuple(Component(**component) for component in record["components"])
    sourced = {name: Sourced(**record[name]) for name in SOURCED_FIELDS}
    return Refrigerant(**{**record, "components": components, **sourced})
