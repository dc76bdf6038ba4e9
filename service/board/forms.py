"""What a person typed: kept as typed, read with errors that name field, value and what was expected."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(slots=True)
class Form:
    """Values as typed, errors by field, and the reasons for which the operation refused."""

    values: Mapping[str, str] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)
    refusals: list[str] = field(default_factory=list)
    refusal_title: str = ""

    @property
    def ok(self) -> bool:
        """Tell whether nothing was complained about."""
        return not self.errors and not self.refusals

    def text(self, name: str, label: str, *, required: bool = True, longest: int = 200) -> str:
        """Read a text without the spaces around it."""
        value = self.values.get(name, "").strip()
        if required and not value:
            self.errors[name] = f"{label}: nothing was given"
        elif len(value) > longest:
            self.errors[name] = f"{label}: {len(value)} characters, at most {longest} are kept"
        return value

    def choice(self, name: str, label: str, allowed: "tuple[str, ...]") -> str:
        """Read one of the values that are offered."""
        value = self.values.get(name, "")
        if value not in allowed:
            self.errors[name] = (
                f"{label}: choose one" if not value else f"{label}: {value!r} is not one of them"
            )
        return value

    def number(
        self,
        name: str,
        label: str,
        *,
        required: bool = True,
        above: float = -math.inf,
        at_most: float = math.inf,
    ) -> float | None:
        """Read a finite number; a comma may stand for the decimal point."""
        typed = self.values.get(name, "").strip()
        if not typed:
            if required:
                self.errors[name] = f"{label}: nothing was given"
            return None
        try:
            value = float(typed.replace(",", ".").replace("\u2212", "-"))
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            self.errors[name] = f"{label}: {typed!r} is not a number"
        elif not above < value <= at_most:
            self.errors[name] = f"{label}: {typed} lies outside of {_bounds(above, at_most)}"
        else:
            return value
        return None


def _bounds(above: float, at_most: float) -> str:
    if at_most == math.inf:
        return f"what is possible, more than {above:g}"
    if above == -math.inf:
        return f"what is possible, at most {at_most:g}"
    return f"{above:g} to {at_most:g}"
