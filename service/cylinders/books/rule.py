"""A rule as a value that an answer can name.

A rule carries its clause, the edition in which that clause was read, and how the clause is known: ``read`` in
the named text, ``memory`` (unverified), ``inferred`` from something read, ``computed``, or ``practice``
(common practice of the trade, no source). Whoever is refused by a rule can look it up, and can see how firmly
it stands.
"""

from dataclasses import dataclass
from typing import Final, Literal

Mark = Literal["read", "memory", "inferred", "computed", "practice"]

CFR_2015: Final = "annual edition 2015"
"""Edition of a clause that was read in the annual edition of 2015."""
CFR_LATER: Final = "current text as mirrored, read 2026-11"
"""Edition of a clause that was read in a mirror of the current text."""
ADR_2025: Final = "ADR/RID 2025, the Norwegian edition, read 2026-11"
"""Edition of a clause of ADR or RID."""
MEMORY: Final = "from memory, unverified"
"""Edition of a clause that nobody has read for this."""
PRACTICE: Final = "common practice, no source"
"""Source of a rule that no text was found for."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Parameters
    ----------
    code : str
        Stable name, used in answers and by clients.
    citation : str
        Clause, or the guideline it comes from.
    edition : str
        Edition in which the clause was read.
    mark : str
        How the clause is known.
    text : str
        The rule in one plain sentence.
    may_override : bool
        Whether the law leaves room for a supervisor to decide otherwise, with a recorded reason.
    """

    code: str
    citation: str
    edition: str
    mark: Mark
    text: str
    may_override: bool = False


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that is broken, and the numbers that break it."""

    rule: Rule
    detail: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A rule that does not forbid, but has to be said."""

    rule: Rule
    detail: str


def table(*rows: tuple[str, str, str, Mark, str] | tuple[str, str, str, Mark, str, bool]) -> dict[str, Rule]:
    """Rules of a table by their codes; a row has the fields of ``Rule`` in their order."""
    return {row[0]: Rule(*row) for row in rows}
