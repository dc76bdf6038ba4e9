"""The report of what measured pressures say of the stated uncertainties, as a page of tables."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from service.refrigerants.equation_of_state import is_shipped
from service.refrigerants.uncertainty import Uncertainties, stand_in
from tests.benchmarks import measured_statistics as statistics
from tests.support.measured import Residual

HEAD = """# Measured pressures against the stated uncertainties

Made by `python -m tests.benchmarks.measured_uncertainty` from `tests/outside/data/measured_pure.csv` and
`measured_pairs.csv` (NIST/TRC ThermoML archive; each number with the DOI of its paper there, the papers of each
figure in `uncertainty.csv`). Points whose paper contradicts itself, and mixtures of a
paper that misses its own pure ends by 1 %, are not counted. The archive states no uncertainties, so the
laboratories' own errors are part of these figures. 233 to 333 K.
"""
REFIT = 2.0
"""A pair is refitted where two papers agree and each lies beyond so many of its sigma."""
Papers = Mapping[str, Sequence[Residual]]


@dataclass(frozen=True)
class Unseen:
    """One sigma of a pair had it not been measured, and by paper, had that one not been written [-]."""

    pair: float
    paper: Mapping[str, float]

    @classmethod
    def of(cls, papers: Mapping[str, Sequence[float]], of_class: float, target: float) -> "Unseen":
        """From the sizes of the errors in each paper, and what the class without this pair says."""
        whole, without = statistics.rounded(of_class, statistics.LEAST_PAIR), {}
        for doi in papers:
            rest = {other: of for other, of in papers.items() if other != doi}
            sigma = statistics.pair_sigma(rest, of_class, target) if rest else of_class
            without[doi] = statistics.rounded(sigma, statistics.LEAST_PAIR)
        return cls(whole, without)


@dataclass(frozen=True)
class Borne:
    """Measured residuals by subject and paper, the figures before and now, each pair's with less measured."""

    found: Mapping[str, Papers]
    before: Uncertainties
    now: Uncertainties
    unseen: Mapping[str, Unseen]
    class_of: Callable[[str], str]
    catalogue_pairs: Sequence[str]


def _pair(figures: Uncertainties, subject: str) -> float:
    first, second = subject.split("+")
    return figures.pair(first, second, stand_in(first, second, shipped=is_shipped(first, second)))[0]


def _all(papers: Papers) -> list[Residual]:
    return list(chain.from_iterable(papers.values()))


def _inside(
    figures: Uncertainties, subject: str, of: Iterable[Residual], sigmas: float, pair: float
) -> list[bool]:
    pure = tuple(figures.fluid(name)[0] for name in subject.split("+"))
    return statistics.inside(of, pair, pure, sigmas)


def _share(flags: Sequence[bool]) -> str:
    return f"{np.mean(flags):.2f}"


def _classes(borne: Borne) -> Iterable[str]:
    yield "\n## By class: share of points inside one and two sigma\n"
    yield "The last two columns: each paper judged by a sigma made without it, each pair without its papers.\n"
    yield "| class | points | subjects | as stated before | as stated now | without that paper | without that pair |"
    yield "|---|---|---|---|---|---|---|"
    names = sorted({borne.class_of(subject) for subject in borne.found})
    for name in names:
        members = [subject for subject in borne.found if borne.class_of(subject) == name]
        members = [subject for subject in members if name == "fluid" or subject in borne.unseen]
        ways = ("before", "now") if name == "fluid" else ("before", "now", "no paper", "no pair")
        columns = [_columns(borne, members, how) for how in ways] + [""] * (4 - len(ways))
        count = sum(len(_all(borne.found[subject])) for subject in members)
        yield f"| {name} | {count} | {len(members)} | {' | '.join(columns)} |"


def _columns(borne: Borne, members: Sequence[str], how: str) -> str:
    figures = borne.before if how == "before" else borne.now
    shares = []
    for sigmas in (1.0, 2.0):
        flags: list[bool] = []
        for subject in members:
            for doi, of in borne.found[subject].items():
                flags += _inside(figures, subject, of, sigmas, _stated(borne, figures, subject, doi, how))
        shares.append(_share(flags))
    return ", ".join(shares)


def _stated(borne: Borne, figures: Uncertainties, subject: str, doi: str, how: str) -> float:
    """One sigma of a pair in that paper; nought for a pure fluid [-]."""
    if "+" not in subject:
        return 0.0
    if how in ("before", "now"):
        return _pair(figures, subject)
    unseen = borne.unseen[subject]
    return unseen.pair if how == "no pair" else unseen.paper.get(doi, unseen.pair)


def _median(of: Sequence[Residual]) -> float:
    return 100 * float(np.median([one.log_ratio for one in of]))


def _fluids(borne: Borne) -> Iterable[str]:
    yield "\n## Pure fluids\n"
    yield "Signed deviations are measured less modelled, the median of each paper of five points and more, in per cent."
    yield ""
    yield "| fluid | papers | points | stated before | now | inside two sigma | papers' medians |"
    yield "|---|---|---|---|---|---|---|"
    for subject, papers in borne.found.items():
        if "+" in subject:
            continue
        of, medians = _all(papers), [_median(paper) for paper in papers.values() if len(paper) >= 5]
        inside = _share(_inside(borne.now, subject, of, 2.0, 0.0))
        said = " ".join(f"{value:+.2f}" for value in sorted(medians))
        before, now = borne.before.fluid(subject)[0], borne.now.fluid(subject)[0]
        yield f"| {subject} | {len(papers)} | {len(of)} | {before:.2%} | {now:.2%} | {inside} | {said} |"


def _pairs(borne: Borne) -> Iterable[str]:
    yield "\n## Measured pairs\n"
    yield "Signed deviations at 4 x (1 - x) above 0.5, the median of each paper, in per cent. Refit: where two papers"
    yield "agree within their scatter and each lies beyond two sigma.\n"
    yield "| pair | class | papers | points | stated before | now | inside two sigma | papers' medians | refit |"
    yield "|---|---|---|---|---|---|---|---|---|"
    for subject in sorted(borne.unseen):
        papers = borne.found[subject]
        of, now = _all(papers), _pair(borne.now, subject)
        middle = [[one for one in paper if one.point.mid > 0.5] for paper in papers.values()]
        said = " ".join(f"{_median(paper):+.2f}" for paper in middle if paper)
        inside = _share(_inside(borne.now, subject, of, 2.0, now))
        refit = "yes" if refit_wanted([paper for paper in middle if paper], now) else "no"
        name, before = borne.class_of(subject), _pair(borne.before, subject)
        stated = f"{before:.2%} | {now:.2%} | {inside}"
        yield f"| {subject} | {name} | {len(papers)} | {len(of)} | {stated} | {said} | {refit} |"


def refit_wanted(papers: Sequence[Sequence[Residual]], sigma: float) -> bool:
    """Whether two papers at least agree on a deviation that the stated sigma does not cover."""
    if len(papers) < 2:
        return False
    medians = np.array([np.median([one.log_ratio for one in paper]) for paper in papers])
    scatters = [
        np.median(np.abs([one.log_ratio - m for one in paper]))
        for paper, m in zip(papers, medians, strict=True)
    ]
    agree = float(np.ptp(medians)) <= 2 * 1.48 * float(np.hypot.reduce(scatters))
    return agree and bool((np.abs(medians) > REFIT * sigma).all())


def _catalogue(borne: Borne) -> Iterable[str]:
    measured = {frozenset(subject.split("+")) for subject in borne.unseen}
    with_data = sum(frozenset(pair.split("+")) in measured for pair in borne.catalogue_pairs)
    yield "\n## Pairs of the catalogue's blends\n"
    yield f"{len(borne.catalogue_pairs)} pairs, {len(borne.catalogue_pairs) - with_data} of them without data here.\n"
    yield "| pair | data | class | stated before | now |"
    yield "|---|---|---|---|---|"
    for subject in borne.catalogue_pairs:
        data = "measured" if frozenset(subject.split("+")) in measured else "no data"
        before, now = _pair(borne.before, subject), _pair(borne.now, subject)
        yield f"| {subject} | {data} | {borne.class_of(subject)} | {before:.2%} | {now:.2%} |"


def report(borne: Borne) -> str:
    """The whole page."""
    lines = chain(_classes(borne), _fluids(borne), _pairs(borne), _catalogue(borne))
    return HEAD + "\n".join(lines) + "\n"
