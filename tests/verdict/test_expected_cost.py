import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from service.verdict.expected_cost import Class, cost_table, least, saved
from service.verdict.settings import VerdictSettings

COSTS = VerdictSettings().costs
CLASSES = (Class("vapour-only"), Class("clean", 0), Class("clean", 1), Class("mixed"), Class("unknown"))
TABLES = arrays(float, (len(CLASSES), 4), elements=st.floats(0.0, 1.0)).filter(
    lambda joint: joint.sum() > 0.01
)


@given(TABLES, st.sampled_from([None, 0, 1, 7]))
def test_knowing_more_never_costs_and_never_saves_more_than_knowing_all(joint, label):
    table = cost_table(CLASSES, COSTS, label)
    normal = joint / joint.sum()
    now = least(normal.sum(axis=1, keepdims=True), table)
    known = sum(
        mass * least(np.eye(len(CLASSES))[:, [place]], table) for place, mass in enumerate(normal.sum(axis=1))
    )
    assert 0.0 <= saved(joint, table) <= now - known + 1e-9


def test_a_measurement_that_tells_all_saves_the_whole_doubt():
    """By hand: 0.8 clean of the label, 0.2 mixed. Kept, that costs 0.2 x 15 = 3; once known, nothing or 3.5."""
    table = cost_table(CLASSES, COSTS, 0)
    joint = np.zeros((len(CLASSES), 2))
    joint[1, 0], joint[3, 1] = 0.8, 0.2
    assert least(joint.sum(axis=1, keepdims=True), table) == pytest.approx(3.0)
    assert saved(joint, table) == pytest.approx(3.0 - 0.2 * 3.5)


def test_an_outcome_that_is_the_same_for_all_saves_nothing():
    table = cost_table(CLASSES, COSTS, None)
    assert saved(np.outer([0.1, 0.4, 0.3, 0.1, 0.1], [0.3, 0.7]), table) == pytest.approx(0.0, abs=1e-12)


def test_without_a_label_the_likeliest_after_the_outcome_names_the_contents():
    """Two clean refrigerants, even: now every choice is a guess, once told each is kept under its own name."""
    joint = np.zeros((len(CLASSES), 2))
    joint[1, 0], joint[2, 1] = 0.5, 0.5
    assert saved(joint, cost_table(CLASSES, COSTS, None)) == pytest.approx(
        min(
            0.5 * row["clean"] + 0.5 * row["unknown"]
            for code, row in COSTS.items()
            if code != "measure-again"
        )
    )


def test_under_a_label_the_other_one_is_never_kept():
    joint = np.zeros((len(CLASSES), 2))
    joint[1, 0], joint[2, 1] = 0.5, 0.5
    table = cost_table(CLASSES, COSTS, 0)
    assert least(joint, table) == pytest.approx(0.5 * COSTS["hold"]["mislabeled"])
    assert least(joint, cost_table(CLASSES, COSTS, 7)) == pytest.approx(COSTS["hold"]["mislabeled"])


def test_nothing_believed_saves_nothing():
    assert saved(np.zeros((len(CLASSES), 3)), cost_table(CLASSES, COSTS, None)) == 0.0
