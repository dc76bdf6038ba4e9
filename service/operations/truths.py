"""Established contents, each once: what verdicts are scored against, and what the owner's prevalence learns from."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

from service.store import analyses
from service.store.analyses import Analysis
from service.store.work import Work

STRONGEST: Final = ("laboratory", "opened", "sealed", "rejection", "credit", "acceptance")
"""Which result counts where several are known of one contents: the one that rests most on measuring (a judgement)."""
COUNTED: Final = ("laboratory", "opened", "credit", "acceptance")
"""Kinds that the prevalence learns from. A maker's sealed container was not recovered, and a rejection says what was
wrong rather than what was common."""


def each_once(results: Sequence[Analysis]) -> list[Analysis]:
    """The result that counts of each contents, in the order in which contents were first told of."""
    best: dict[tuple[int, int], Analysis] = {}
    for one in results:
        key = (one.cylinder_id, one.epoch)
        if key not in best or STRONGEST.index(one.kind) <= STRONGEST.index(best[key].kind):
            best[key] = one
    return list(best.values())


def counts(work: Work, *, besides: int | None = None) -> dict[str, int]:
    """Established contents of the owner by designation, those of one cylinder left out; never what verdicts say."""
    found = each_once(analyses.everything(work, COUNTED))
    names = [one.designation for one in found if one.designation is not None and one.cylinder_id != besides]
    return dict(sorted(Counter(names).items(), key=lambda item: (-item[1], item[0])))


def in_words(history: Mapping[str, int]) -> tuple[str, ...]:
    """Where the owner's own established cylinders were used, for the reasons of a verdict; nothing without any."""
    if not history:
        return ()
    total = sum(history.values())
    listed = ", ".join(f"{name} {count}" for name, count in list(history.items())[:4])
    others = "" if len(history) <= 4 else f" and {len(history) - 4} others"
    cylinders = "1 cylinder" if total == 1 else f"{total} cylinders"
    return (
        f"What is usual was taken from the region's table and from {cylinders} of this owner whose contents were "
        f"established ({listed}{others}).",
    )
