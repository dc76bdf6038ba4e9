"""Which one more measurement is worth most: what it is expected to save, less what it takes.

Every measurement has a joint table of its outcomes and of what may be in the cylinder. From it come the information it
is expected to bring about the question that is open (the designation while that is open, else the contamination) and
the cost that knowing the outcome is expected to save. What brings hardly any information is not offered, nor is an
instrument beside gauge and thermometer that saves less than it takes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.verdict import information_gain, measurement_options, measurement_outcomes
from service.verdict.expected_cost import Class, CostTable, cost_table, saved
from service.verdict.filling import overall_density
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.measurement_options import Option
from service.verdict.measurement_outcomes import Leading
from service.verdict.model import Alternative, CylinderFacts, NextMeasurement, Pair
from service.verdict.observing import ObservationBook
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings

Floats = NDArray[np.float64]

SHOWN = 4
"""Most ways that are told, the best and what else would help (a choice)."""
COOL_BELOW_K = 293.15
"""Below the critical temperature of carbon dioxide with room to spare (a choice) [K]."""

_WEIGH_EMPTY = NextMeasurement(
    "Weigh the cylinder and compare with its tare: without liquid, pressure and temperature cannot tell what "
    "it is.",
    "weigh",
    None,
    0.0,
)
"""What is told of a cylinder without liquid; its information is not computed, 0 [bit]."""
_WEIGH_AIR = NextMeasurement(
    "Weigh the cylinder and compare with its tare: it reads like air or nitrogen alone.",
    "weigh",
    None,
    0.0,
)
"""What is told of a cylinder that reads as if there were no refrigerant in it, until it is weighed; its information is
not computed, 0 [bit]."""
_EMPTY = NextMeasurement(
    "By weight and pressure there is no refrigerant in it: evacuate it before anything goes in.",
    "none",
    None,
    0.0,
)
"""What is told of one that was weighed and found empty; its information is not computed, 0 [bit]."""
_COOL_BELOW = NextMeasurement(
    "Cool the cylinder to about 20 °C (68 °F) with cool room air or ice water, let it settle, read again: so warm "
    "there is no liquid in it, and its pressure goes by how full it is.",
    "cool",
    COOL_BELOW_K,
    0.0,
)
"""What is told of a gas above its critical temperature; its information is not computed, 0 [bit]."""
_NOTHING_TELLS = (
    "No single further measurement is expected to tell much more; what is still open needs a sample and a "
    "laboratory."
)


def choose(
    posterior: Posterior,
    space: HypothesisSpace,
    pairs: Sequence[Pair],
    facts: CylinderFacts,
    book: ObservationBook,
    settings: VerdictSettings,
    *,
    identified: bool,
) -> NextMeasurement:
    """
    The measurement that is expected to save most, less the effort that it takes.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    space : HypothesisSpace
        Its rows.
    pairs : sequence of Pair
        The condensed pairs, in the posterior's order.
    facts : CylinderFacts
        What is known already is not asked for again.
    book : ObservationBook
        How detectors and analysers take the contents.
    settings : VerdictSettings
        Costs of choices, efforts of measurements, and what is worth a measurement.
    identified : bool
        The designation is decided, so contamination is the question.

    Returns
    -------
    NextMeasurement
        `none` as code where nothing is expected to tell anything.
    """
    if posterior.is_empty():
        return _WEIGH_AIR if overall_density(facts) is None else _EMPTY
    if float(posterior.by_state["vapour-only"].sum()) + posterior.no_refrigerant >= 0.5:
        return _WEIGH_EMPTY
    if posterior.is_dense():
        return _COOL_BELOW
    found = measurement_outcomes.leading(posterior, space)
    question = found.by_state() if identified else found.by_designation()
    costs = _costs(found, space, facts, settings)
    ways = [
        way
        for options, joints in _joints(found, posterior, space, pairs, facts, book, settings)
        for way in _weighed(options, joints, question, costs)
    ]
    ways.sort(key=lambda way: (_worth(way, settings), way.expected_information_bits), reverse=True)
    telling = [way for way in ways if _tells(way, settings)]
    if not telling:
        most = max(way.expected_information_bits for way in ways)
        return NextMeasurement(_NOTHING_TELLS, "none", None, most, tuple(ways[: SHOWN - 1]))
    best = telling[0]
    return NextMeasurement(
        best.action,
        best.code,
        best.temp_k,
        best.expected_information_bits,
        tuple([way for way in telling if way is not best][: SHOWN - 1]),
        best.expected_cost_saved,
    )


def _joints(
    found: Leading,
    posterior: Posterior,
    space: HypothesisSpace,
    pairs: Sequence[Pair],
    facts: CylinderFacts,
    book: ObservationBook,
    settings: VerdictSettings,
) -> list[tuple[list[Option], Floats]]:
    """Options with their joint tables [options, classes, outcomes] [-]."""
    may_be_full = float(posterior.by_state["liquid-full"].sum()) > settings.full_is_not_warmed
    read = measurement_options.of_pairs(pairs, settings, may_be_full=may_be_full)
    if found.weight.size == 0:
        return [(read, np.zeros((len(read), found.classes, 1)))]
    new = [option.pair for option in read if option.pair is not None]
    joints = [(read, measurement_outcomes.of_pairs(found, posterior, space, pairs, new))]
    density = overall_density(facts)
    for option in measurement_options.of_instruments(facts, density_known=density is not None):
        if option is measurement_options.WEIGH:
            joint = measurement_outcomes.of_weight(found, posterior, space)
        elif option is measurement_options.COMBUSTIBLE_GAS:
            joint = measurement_outcomes.of_detector(found, book)
        elif option is measurement_options.ANALYSER:
            joint = measurement_outcomes.of_analyser(found, space, book)
        else:
            joint = measurement_outcomes.of_level(found, book, density or 0.0)
        joints.append(([option], joint[None]))
    return joints


def _weighed(
    options: Sequence[Option], joints: Floats, question: Floats, costs: CostTable
) -> list[Alternative]:
    # What no outcome leaves any weight has no part in either.
    some = np.flatnonzero(joints.sum(axis=(0, 2)))
    joints = joints[:, some]
    bits, saving = information_gain.mutual(question[:, some] @ joints), saved(joints, costs.of(some))
    return [
        Alternative(option.code, option.action, option.temp_k, round(float(told), 4), round(float(gain), 4))
        for option, told, gain in zip(options, bits, saving, strict=True)
    ]


def _tells(way: Alternative, settings: VerdictSettings) -> bool:
    pays = way.code not in measurement_options.BY_INSTRUMENT or _worth(way, settings) > 0.0
    return pays and way.expected_information_bits >= settings.worthwhile_bits


def _worth(way: Alternative, settings: VerdictSettings) -> float:
    return way.expected_cost_saved - settings.efforts[way.code]


def _costs(
    found: Leading, space: HypothesisSpace, facts: CylinderFacts, settings: VerdictSettings
) -> CostTable:
    """Costs by class: clean of each ranked designation, clean of any other, and each contamination."""
    claimed = facts.claimed_designation
    label = space.designations.index(claimed) if claimed in space.designations else None
    other = "unknown" if label is None else "mislabeled"
    classes = [Class("vapour-only")]
    for designation in (*found.ranked.tolist(), None):
        for state in space.states:
            if state != "none":
                classes.append(Class(state))
            else:
                classes.append(Class(other) if designation is None else Class("clean", designation))
    return cost_table(classes, settings.costs, label)
