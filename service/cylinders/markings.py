"""What is stamped on a cylinder, read as people type it.

Specification and service pressure: 49 CFR 178.50, 178.51, 178.61, 178.65 and 173.301a(b) (2015 edition,
read). Metric Canadian marks (``TC-4BWM24``, pressure in bar) and the ISO 13769 marks ``PH`` (test) and ``PW``
(working) are from memory. A mark that is not understood is kept as typed; it says why, and decisions that
need it refuse. "Non-refillable" in words, NRC and a DOT-39 mark anywhere in the line end every other reading: such
a cylinder is never filled, whatever else stands beside it.
"""

import re
from dataclasses import dataclass, replace
from typing import Final, Literal

from service.units import pa_from_psi

PA_PER_BAR: Final = 1e5
"""By definition [Pa/bar]."""

_SERVICE_PRESSURE_RANGE_PSI: Final = {"4B": (150, 500), "4BA": (225, 500), "4BW": (225, 500)}
"""Service pressures for which each series is made (49 CFR 178.50(a), 178.51(a), 178.61(a), 2015 edition, read); a
mark outside them is a misreading [psig]."""
_SERVICE_PRESSURE_UNMARKED_PSI: Final = {"3": 1800, "3E": 1800, "8": 250}
"""Service pressure where none is marked (49 CFR 173.301a(b), 2015 edition, read) [psig]."""
_TEST_FACTOR: Final = {"4B": 2.0, "4BA": 2.0, "4BW": 2.0, "4E": 2.0, "3A": 5 / 3, "3AA": 5 / 3, "3AL": 5 / 3}
"""Test pressure over service pressure (49 CFR 180.209(a) table 1, read) [-]."""

_SPECIFICATIONS: Final = (
    "106A", "110A", "3AAX", "3AX", "3AA", "3AL", "3HT", "3A", "3B", "3E", "3T", "4AA", "4BA", "4BW", "4B",
    "4DA", "4DS", "4D", "4E", "4L", "8AL", "39", "3", "8",
)  # fmt: skip
_DOT = re.compile(
    r"(?:^|[^A-Z0-9])(?:(?P<authority>DOT|ICC|CTC|TC)[\s\-]*)?"
    rf"(?P<spec>{'|'.join(_SPECIFICATIONS)})(?P<metric>M)?[\s\-]*"
    r"(?P<nrc>NRC)?[\s\-]*(?P<pressure>\d{2,4})?(?P<suffix>ET|X|W)?(?:\s*/\s*(?P<test>\d{2,4}))?(?![A-Z0-9.])"
)
_ISO = re.compile(r"\bP(?P<kind>[HW])\s*(?P<value>\d{1,4}(?:[.,]\d+)?)\s*(?P<unit>BAR|MPA|KPA)?(?![A-Z0-9])")
# 49 CFR 178.65(i)(2): DOT-39 and NRC; the words stand on cylinders of other laws (ISO 11118 is the standard for them).
_NON_REFILLABLE = re.compile(
    r"NON[\s-]*(?:REFILL|REUS|RECHARG)|NOT REFILL|DO NOT REFILL(?! AFTER)|NICHT WIEDER|\bNRC\b|11118|"
    r"(?:DOT|CTC|TC)[\s-]*39(?!\d)"
)
# The pi mark as people type it: the letter itself, in capitals after upper(), or its name.
_CONFORMITY = re.compile(r"\bUN\b|[Ππ]|\bPI\b")
_ISO_UNIT_PA: Final = {"BAR": 1e5, "MPA": 1e6, "KPA": 1e3}
"""Units of an ISO mark's pressure (by definition) [Pa]."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Specification and pressures of a cylinder.

    Parameters
    ----------
    text : str
        As typed.
    standard : {"DOT", "ISO", None}
        Which family of rules applies; None where the mark is not understood.
    specification : str or None
        ``4BA``, ``39``, ``4B240ET``; None for ISO marks.
    service_pressure_pa : float or None
        Marked service pressure (DOT) or working pressure (ISO), gauge [Pa].
    test_pressure_pa : float or None
        Test pressure, gauge [Pa].
    refillable : bool or None
        None where unknown.
    reason : str or None
        Why the mark is not understood.
    conformity : {"UN", "pi", None}
        Whether the UN packaging symbol or the pi mark stands among ISO marks.
    law : str
        Rule book of the place where the cylinder stands, by which it is judged beside its own marks.
    """

    text: str
    standard: Literal["DOT", "ISO"] | None = None
    specification: str | None = None
    service_pressure_pa: float | None = None
    test_pressure_pa: float | None = None
    refillable: bool | None = None
    reason: str | None = None
    conformity: Literal["UN", "pi"] | None = None
    law: str = "us"

    @property
    def understood(self) -> bool:
        """Whether decisions may rest on it."""
        return self.standard is not None


def read_marks(text: str | None, *, law: str = "us") -> Marks:
    """
    Read the specification mark of a cylinder; never raises, an unknown mark says why.

    Parameters
    ----------
    text : str or None
        As typed.
    law : str
        Rule book of the place where the cylinder stands.
    """
    return replace(_read(text), law=law)


def _read(text: str | None) -> Marks:
    typed = (text or "").strip()
    if not typed:
        return Marks(typed, reason="no marks entered")
    upper = re.sub(r"\s+", " ", typed.upper().replace("–", "-").replace("—", "-"))
    marks = _read_iso(typed, upper) or _read_specification(typed, upper)
    return replace(marks, refillable=False) if _is_non_refillable(upper) else marks


def _is_non_refillable(upper: str) -> bool:
    """Whether anything in the line says so, whatever else stands beside it."""
    return _NON_REFILLABLE.search(upper) is not None


def _is_specification(found: re.Match[str], upper: str) -> bool:
    """Whether a bare number such as 3 or 39 is meant as a specification."""
    return found["spec"] not in {"3", "8", "39"} or found["authority"] is not None or "NRC" in upper


def _read_iso(typed: str, upper: str) -> Marks | None:
    pressures = {
        m["kind"]: float(m["value"].replace(",", ".")) * _ISO_UNIT_PA[m["unit"] or "BAR"]
        for m in _ISO.finditer(upper)
    }
    if not pressures:
        return None
    found = _CONFORMITY.search(upper)
    conformity: Literal["UN", "pi"] | None = None
    if found is not None:
        conformity = "UN" if found[0] == "UN" else "pi"
    return Marks(typed, "ISO", None, pressures.get("W"), pressures.get("H"), True, conformity=conformity)


def _read_specification(typed: str, upper: str) -> Marks:
    found = next((m for m in _DOT.finditer(upper) if _is_specification(m, upper)), None)
    if found is None:
        return Marks(typed, reason=f"no known specification in {typed!r}")
    spec, suffix = found["spec"], found["suffix"] or ""
    if found["pressure"] is None:
        return _without_pressure(typed, spec)
    number = float(found["pressure"])
    in_bar = found["metric"] is not None
    service = number * PA_PER_BAR if in_bar else pa_from_psi(number)
    low, high = _SERVICE_PRESSURE_RANGE_PSI.get(spec, (0, 10_000))
    if not in_bar and not low <= number <= high:
        return Marks(typed, reason=f"{spec} cylinders are made for {low} to {high} psig, not {number:g}")
    if found["test"] is not None:
        test: float | None = (
            float(found["test"]) * PA_PER_BAR if in_bar else pa_from_psi(float(found["test"]))
        )
    else:
        factor = _TEST_FACTOR.get(spec)
        test = None if factor is None else service * factor
    name = f"{spec}{found['pressure']}{suffix}" if suffix in {"ET", "X"} else spec
    return Marks(typed, "DOT", name, service, test, spec != "39")


def _without_pressure(typed: str, spec: str) -> Marks:
    if spec == "39":
        return Marks(typed, "DOT", spec, None, None, False)
    unmarked = _SERVICE_PRESSURE_UNMARKED_PSI.get(spec)
    if unmarked is None:
        return Marks(
            typed, reason=f"{spec} without its service pressure: type it as stamped, for example 4BA400"
        )
    return Marks(typed, "DOT", spec, pa_from_psi(float(unmarked)), None, True)
