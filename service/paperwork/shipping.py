"""The shipping description of a cylinder, in the form of the law of its place.

By 49 CFR: identification number, proper shipping name (with technical names in brackets where it is an n.o.s. name),
hazard class or division, packing group (gases have none), then quantity and packages. Order from memory of
172.202(a) and (b); 172.203(k) and (m), mixtures 172.101(c)(10)(iii) and tentative names 172.101(c)(11) read in the
2015 edition. By ADR 5.4.1.1.1 (read): number, name in capitals, label numbers, tunnel code; an empty uncleaned
receptacle by 5.4.1.1.6.2.1. It helps whoever signs the paper and does not replace that person's judgement.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from service.cylinders.adr_gases import AdrGases
from service.cylinders.books import BOOKS
from service.paperwork.names import chemical_name
from service.paperwork.units import Units, mass
from service.refrigerants.catalogue import Refrigerant

_MIXTURE: Final = {
    "2.2": ("UN1078", "Refrigerant gases, n.o.s."),
    "2.1": ("UN3161", "Liquefied gas, flammable, n.o.s."),
}
SIGN: Final = "Whoever offers it for transport checks and signs the description."
TENTATIVE: Final = "Tentative name by the shipper's knowledge, 49 CFR 172.101(c)(11), until it is identified."
ADR_TENTATIVE: Final = (
    "ADR 2.1.4 (from memory) has provisional names for samples alone: identify it before it is carried."
)
MEMORY: Final = "The UN number is from memory: confirm it in the 49 CFR 172.101 table."
RESIDUE: Final = "RESIDUE: Last Contained"
# Special provisions 13 and 3 of 172.102(c)(1) and 172.203(m), read in the 2015 edition; that the table gives them to
# these two entries is from memory.
INHALATION: Final = {"UN1005": "Inhalation Hazard", "UN1079": "Poison-Inhalation Hazard, Zone C"}


@dataclass(frozen=True, slots=True)
class Form:
    """How it is written: the owner's units, the law of the place, where names and hazards are taken from."""

    units: Units
    catalogue: Mapping[str, Refrigerant]
    law: str = "us"
    gases: AdrGases = field(default_factory=AdrGases)


@dataclass(frozen=True, slots=True)
class ShippingDescription:
    """What goes on the paper.

    Parameters
    ----------
    text : str or None
        The whole description; None when the cylinder cannot be described.
    un_number, proper_shipping_name, hazard_division : str or None
        Its parts.
    technical_names : tuple of str
        In brackets after an n.o.s. name.
    inhalation : str or None
        The words for a gas that is poisonous to breathe, on paper and on the package.
    quantity, packages : str
        Net mass in the owner's units; number and kind of packages.
    notes : tuple of str
        What whoever signs has to know.
    """

    text: str | None
    un_number: str | None = None
    proper_shipping_name: str | None = None
    hazard_division: str | None = None
    technical_names: tuple[str, ...] = ()
    inhalation: str | None = None
    quantity: str = ""
    packages: str = "1 cylinder"
    notes: tuple[str, ...] = field(default=(SIGN,))

    @property
    def name_in_full(self) -> str | None:
        """The proper shipping name as the package is marked with it; what stands instead where there is none."""
        if self.proper_shipping_name is None:
            return self.text
        inhalation = f", {self.inhalation}" if self.inhalation else ""
        return self.proper_shipping_name + _in_brackets(self.technical_names) + inhalation


def single(
    refrigerant: Refrigerant,
    net_kg: float | None,
    *,
    form: Form,
    residue: bool = False,
) -> ShippingDescription:
    """Describe a cylinder that holds one designation."""
    if BOOKS[form.law].shipping is None:
        return _not_read(form)
    un_number, name = refrigerant.un_number.value, refrigerant.shipping_name.value
    division = refrigerant.hazard_division.value
    if un_number is None or name is None or division is None:
        return ShippingDescription(
            None, notes=(f"{refrigerant.designation}: {refrigerant.un_number.source}", SIGN)
        )
    technical: tuple[str, ...] = ()
    proper = _proper_name(name)
    if "n.o.s." in proper:
        technical = _bracketed(name) or _technical(refrigerant.mass_fractions, division, form.catalogue)
    notes = (SIGN,) if refrigerant.un_number.mark == "read" else (MEMORY, SIGN)
    return _described(un_number, proper, division, technical, net_kg, form, notes, residue=residue)


def mixture(
    shares: Mapping[str, float],
    refrigerants: Sequence[Refrigerant],
    net_kg: float | None,
    *,
    form: Form,
    tentative: bool = False,
    residue: bool = False,
) -> ShippingDescription:
    """Describe a mixture, or contents of which several candidates are left (``tentative``).

    Parameters
    ----------
    shares : mapping of str to float
        Mass fraction, or probability, by designation [-].
    refrigerants : sequence of Refrigerant
        The same designations.
    net_kg : float or None
        Net mass [kg].
    form : Form
        How it is written.
    tentative : bool
        The designations are candidates, not components.
    residue : bool
        Emptied and not cleaned.
    """
    if BOOKS[form.law].shipping is None:
        return _not_read(form)
    if tentative and BOOKS[form.law].shipping == "adr":
        return ShippingDescription(None, notes=(ADR_TENTATIVE, SIGN))
    divisions = {refrigerant.hazard_division.value for refrigerant in refrigerants}
    poison = any(refrigerant.un_number.value in INHALATION for refrigerant in refrigerants)
    if not refrigerants or poison or any(division is None or "2.3" in division for division in divisions):
        return ShippingDescription(
            None, notes=("It cannot be described as it stands: identify it first.", SIGN)
        )
    division = "2.1" if any(division and division.startswith("2.1") for division in divisions) else "2.2"
    un_number, name = _MIXTURE[division]
    weights: dict[str, float] = {}
    for refrigerant in refrigerants:
        share = shares.get(refrigerant.designation, 0.0)
        for component, fraction in (refrigerant.mass_fractions or {refrigerant.designation: 1.0}).items():
            weights[component] = weights.get(component, 0.0) + share * fraction
    notes = (TENTATIVE, SIGN) if tentative else (SIGN,)
    return _described(
        un_number,
        name,
        division,
        _technical(weights, division, form.catalogue),
        net_kg,
        form,
        notes,
        residue=residue,
    )


def unknown() -> ShippingDescription:
    """Describe contents that nobody knows: not at all, until they are identified."""
    return ShippingDescription(None, notes=("Contents unknown: identify them before it is offered.", SIGN))


def evacuated(law: str = "us") -> ShippingDescription:
    """Describe a cylinder that was emptied and drawn to vacuum."""
    clause = {"us": ", 49 CFR 173.29(b)", "eu": ", ADR 1.1.3.5"}.get(law, "")
    note = f"Not regulated when clean of residue and vapor{clause} (from memory)."
    return ShippingDescription("Empty cylinder, evacuated", quantity="-", notes=(note,))


def _described(
    un_number: str,
    name: str,
    division: str,
    technical: tuple[str, ...],
    net_kg: float | None,
    form: Form,
    notes: tuple[str, ...],
    *,
    residue: bool,
) -> ShippingDescription:
    if BOOKS[form.law].shipping == "adr":
        return _by_adr(un_number, technical, net_kg, form, notes, residue=residue)
    quantity = f"{mass(net_kg, form.units)} net" if net_kg is not None else "net mass not known"
    prefix = f"{RESIDUE}, " if residue else ""
    inhalation = INHALATION.get(un_number)
    after = f", {inhalation}" if inhalation else ""
    text = f"{prefix}{un_number}, {name}{_in_brackets(technical)}, {division}{after}; 1 cylinder, {quantity}"
    return ShippingDescription(text, un_number, name, division, technical, inhalation, quantity, notes=notes)


def _by_adr(
    un_number: str,
    technical: tuple[str, ...],
    net_kg: float | None,
    form: Form,
    notes: tuple[str, ...],
    *,
    residue: bool,
) -> ShippingDescription:
    gas = form.gases.get(un_number)
    notes = tuple(note for note in notes if note != MEMORY)
    if gas is None:
        return ShippingDescription(None, notes=(f"{un_number} is not in the table of ADR here.", *notes))
    quantity = f"{mass(net_kg, form.units)} net" if net_kg is not None else "net mass not known"
    number = f"{un_number[:2]} {un_number[2:]}"
    text = f"{number} {gas.name}{_in_brackets(technical)}, {gas.labels}, ({gas.tunnel_code}); 1 cylinder, {quantity}"
    if residue:
        text, quantity = f"EMPTY RECEPTACLE, {gas.labels}", "-"
    division = gas.labels.partition(" ")[0]
    return ShippingDescription(text, un_number, gas.name, division, technical, None, quantity, notes=notes)


def _not_read(form: Form) -> ShippingDescription:
    """What stands where the law of the place could not be read: nothing of another law."""
    law = BOOKS[form.law]
    return ShippingDescription(None, notes=(f"{law.name}: {law.missing['shipping']}.", SIGN))


def _in_brackets(technical: tuple[str, ...]) -> str:
    return f" ({', '.join(technical)})" if technical else ""


def _proper_name(name: str) -> str:
    """One name out of an entry such as ``Chlorodifluoromethane or Refrigerant gas R 22``."""
    return re.sub(r"\s*\(.*\)\s*$", "", name).split(" or ")[-1].strip()


def _bracketed(name: str) -> tuple[str, ...]:
    found = re.search(r"\(([^()]*)\)\s*$", name)
    return tuple(part.strip() for part in re.split(r", (?![\d,]*-)", found[1])) if found else ()


def _technical(
    weights: Mapping[str, float], division: str, catalogue: Mapping[str, Refrigerant]
) -> tuple[str, ...]:
    """
    Names of the two components that bring the hazard (172.203(k)(1); PHMSA letter 99-0089).

    In a flammable gas these are the flammable ones, the heaviest first; what is left is filled up by mass.
    """

    def rank(component: str) -> tuple[bool, float, str]:
        known = catalogue.get(component)
        of_component = (known.hazard_division.value or "") if known is not None else ""
        brings_it = division.startswith("2.1") and of_component.startswith("2.1")
        return (not brings_it, -weights[component], component)

    return tuple(chemical_name(component) for component in sorted(weights, key=rank)[:2])
