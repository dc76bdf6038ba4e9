import numpy as np
import pytest

from service.verdict import measurement_options as options
from service.verdict import measurement_outcomes as outcomes
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts
from service.verdict.observations import ANALYSER_TRUST
from service.verdict.settings import VerdictSettings


@pytest.fixture(scope="module")
def open_question(engine, at):
    pairs = condense([at("R-410A", factor=0.985, temp_bias_k=1.5)])
    return pairs, engine.infer(pairs, CylinderFacts(water_volume_m3=0.0216))


@pytest.fixture(scope="module")
def found(engine, open_question):
    return outcomes.leading(open_question[1], engine.space)


@pytest.fixture(scope="module")
def chances(engine, open_question):
    """Of every class, by the rows that were left."""
    found = outcomes.leading(open_question[1], engine.space)
    by_class = np.bincount(found.label, found.weight, found.classes)
    by_class[0] = found.vapour
    return by_class


def test_every_outcome_together_is_what_was_believed_before(engine, open_question, found, chances):
    pairs, posterior = open_question
    read = options.of_pairs(pairs, VerdictSettings(), may_be_full=False)
    tables = outcomes.of_pairs(found, posterior, engine.space, pairs, [one.pair for one in read])
    others = (
        outcomes.of_detector(found, engine.observed),
        outcomes.of_level(found, engine.observed, 500.0),
        outcomes.of_analyser(found, engine.space, engine.observed),
    )
    for table in (*tables, *others):
        assert table.min() >= 0.0
        np.testing.assert_allclose(table.sum(axis=1), chances, rtol=1e-4, atol=1e-9)


def test_the_classes_of_a_question_add_up(found, chances):
    for question in (found.by_state(), found.by_designation()):
        assert question.shape[1] == found.classes
        np.testing.assert_array_equal(question.sum(axis=0), 1.0)
    by_name = found.by_designation() @ chances
    assert by_name[1] == pytest.approx(by_name[1:].max())


def test_a_weight_is_the_fill_of_the_rows_themselves(engine, open_question, found):
    table = outcomes.of_weight(found, open_question[1], engine.space)
    total = open_question[1].rows.sum() + found.vapour
    assert table.sum() == pytest.approx(total, rel=1e-5)


def test_an_analyser_is_wrong_as_often_as_analysers_are(engine, found):
    table = outcomes.of_analyser(found, engine.space, engine.observed)
    right = table.max(axis=1).sum() / table.sum()
    assert right <= ANALYSER_TRUST + (1 - ANALYSER_TRUST) * table.sum(axis=0).max() / table.sum() + 1e-9


def test_rows_of_one_composition_are_one_outcome(engine):
    space, book = engine.space, engine.observed
    clean, airy = space.row("none", 3, 0), space.row("air", 3, 0, 0)
    trace = space.row("mixed", 3, 1, 0)
    half = space.row("mixed", 3, 1, space.share.nodes.size - 1)
    rows = np.array([clean, airy, trace, half])
    assert space.share.nodes[0] < 0.04 < space.share.nodes[-1]
    numbers = book.row_composition(space, rows, 0.04)
    assert numbers[0] == numbers[1] == numbers[2] != numbers[3]


def test_the_level_that_a_row_asks_for_is_that_of_its_densities(engine):
    """Half full of the liquid and half of the vapor of one designation, by definition of the density."""
    book, index = engine.observed, 2
    density = 0.5 * (engine.fill.liquid[index] + engine.fill.vapour[index])
    row = np.array([engine.space.row("none", index, 0)])
    assert book.row_level(row, density)[0] == pytest.approx(0.5, abs=1e-4)
    assert book.expected_level(index, density) == pytest.approx(0.5)
