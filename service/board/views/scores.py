"""How right verdicts have been, in words that say how little few results say."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.board import phrases
from service.board.quantities import SPACE, fixed, percent
from service.board.reliability_diagram import ReliabilityDiagram, reliability_diagram
from service.operations.scores import Prevalent, Scores
from service.verdict.truth.intervals import CLOSE, Proportion
from service.verdict.truth.scores import Mean, Summary

KINDS = {
    "laboratory": "laboratory result",
    "opened": "opened and seen",
    "sealed": "maker's sealed container",
    "acceptance": "accepted by a reclaimer",
    "rejection": "rejected by a reclaimer",
    "credit": "credited by a reclaimer",
}
IDENTITY = {"identified": "named one", "narrowed": "named several", "unrecognised": "named none"}
SHOWN = 8
"""So many lines of what is usual are shown; the others are in ``GET /scores``."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: what, how many, how many right, between which shares."""

    name: str
    cases: int
    right: str
    between: str


@dataclass(frozen=True, slots=True)
class Group:
    """A table."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class UsualRow:
    """How common a designation is taken to be."""

    designation: str
    by_table: str
    counted: int
    share: str


@dataclass(frozen=True, slots=True)
class ScoresView:
    """The page."""

    cases: int
    headline: str
    doubt: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    unscored: str
    diagram: ReliabilityDiagram | None
    diagram_words: str
    groups: tuple[Group, ...]
    usual: tuple[UsualRow, ...]
    counted: int


def scores(found: Scores) -> ScoresView:
    """Write the page."""
    overall = found.overall
    counted = sum(one.counted for one in found.prevalence)
    return ScoresView(
        cases=overall.cases,
        headline=_headline(overall),
        doubt=_doubt(overall),
        facts=_facts(overall),
        unscored=" ".join(text for text in (_unnamed(found.unnamed), _unscored(found.unscored)) if text),
        diagram=reliability_diagram(found.reliability),
        diagram_words="; ".join(
            f"{one.right.of} verdicts that were {percent(one.stated)} sure: {one.right.count} right, "
            f"{_between(one.right)}"
            for one in found.reliability
        ),
        groups=tuple(group for group in _groups(found) if group.rows),
        usual=tuple(_usual(one) for one in _shown(found.prevalence)),
        counted=counted,
    )


def _headline(overall: Summary) -> str:
    right = overall.right_first
    if not overall.cases or overall.stated_first is None:
        return "Nobody has told yet which refrigerant a cylinder turned out to hold."
    return (
        f"The refrigerant named first was right in {right.count} of {right.of} established "
        f"{'cylinder' if right.of == 1 else 'cylinders'}. The verdicts themselves were "
        f"{percent(overall.stated_first)} sure on average."
    )


def _doubt(overall: Summary) -> tuple[str, ...]:
    """What so few cases leave open."""
    right = overall.right_first
    if right.low is None or right.high is None or right.needed is None or overall.stated_first is None:
        return ()
    few = right.of < right.needed
    begin = "So few say little: of many such cylinders" if few else "Of many such cylinders"
    said = [f"{begin} it may be right in anything {_between(right)} (95{SPACE}% interval)."]
    if right.low <= overall.stated_first <= right.high:
        said.append(
            "That agrees with how sure the verdicts were"
            + (", but would agree with much else." if few else ".")
        )
    else:
        way = "less" if overall.stated_first > right.high else "more"
        said.append(f"The verdicts were right {way} often than they said they would be.")
    if few:
        said.append(
            f"To know it within {100 * CLOSE:.0f} points either way takes about {right.needed} established cylinders."
        )
    said.append("Cylinders that go to a laboratory are often the doubtful ones: the others may fare better.")
    return tuple(said)


def _facts(overall: Summary) -> tuple[tuple[str, str], ...]:
    rows = (
        ("In the verdict's list, should be 95 in 100", overall.covered),
        ("Clean, called contaminated", overall.clean_accused),
        ("Contaminated, nothing detected", overall.contamination_missed),
    )
    told = [(name, _told(one)) for name, one in rows if one.of]
    if overall.cases:
        told.append(("Log score, 0 at best", _mean(overall.log_score)))
        told.append(("Brier score, 0 at best", _mean(overall.brier)))
    return tuple(told)


def _told(one: Proportion) -> str:
    return f"{one.count} of {one.of} ({_short(one)})"


def _short(one: Proportion) -> str:
    """Write the interval for a table."""
    if one.low is None or one.high is None:
        return ""
    return f"{100 * one.low:.0f} to {100 * one.high:.0f}{SPACE}%"


def _between(one: Proportion) -> str:
    if one.low is None or one.high is None:
        return ""
    return f"between {100 * one.low:.0f} and {100 * one.high:.0f}{SPACE}%"


def _mean(one: Mean) -> str:
    if one.mean is None:
        return ""
    spread = "" if one.standard_error is None else f" ± {fixed(one.standard_error, 2)}"
    return f"{fixed(one.mean, 2)}{spread}"


def _unnamed(count: int) -> str:
    if not count:
        return ""
    results = "1 result names" if count == 1 else f"{count} results name"
    return f"{results} no refrigerant: only what was with it is counted."


def _unscored(count: int) -> str:
    if not count:
        return ""
    results = "1 result is" if count == 1 else f"{count} results are"
    return f"{results} not scored: nothing had been judged before."


def _groups(found: Scores) -> tuple[Group, ...]:
    contamination = {name: phrases.CONTAMINATION.get(name, name) for name in found.by_contamination}
    return (
        _group("By how sure the verdict was", found.by_identity, IDENTITY),
        _group("By contamination found", found.by_contamination, contamination),
        _group("By what it turned out to be", found.by_refrigerant, {}),
        _group("By what the instruments were taken for", found.by_instrument_class, {}),
        _group("By how it turned out", found.by_kind, KINDS),
    )


def _group(title: str, groups: Mapping[str, Summary], names: Mapping[str, str]) -> Group:
    return Group(
        title,
        tuple(
            Row(names.get(name, name), one.cases, str(one.right_first.count), _short(one.right_first))
            for name, one in groups.items()
            if one.cases
        ),
    )


def _shown(prevalence: Sequence[Prevalent]) -> list[Prevalent]:
    """The commonest, and after them whatever else was counted."""
    first = list(prevalence[:SHOWN])
    return first + [one for one in prevalence[SHOWN:] if one.counted]


def _usual(one: Prevalent) -> UsualRow:
    return UsualRow(one.designation, percent(one.by_table), one.counted, percent(one.share))
