import json

import numpy as np
import pytest

from service.verdict.errors import InvalidEvidence
from service.verdict.model import BelievedContent, CylinderFacts
from service.verdict.priors import CARRIED_TRUST, Prevalence

NOTHING = CylinderFacts()


@pytest.fixture(scope="module")
def book(engine):
    return engine.book


@pytest.mark.parametrize("kind", ["field", "flat"])
def test_everything_sums_to_one(book, kind):
    priors = book.priors(NOTHING, kind)
    assert priors.designation.sum() == pytest.approx(1.0)
    assert np.allclose(priors.states.sum(axis=1), 1.0)
    assert np.allclose(priors.partner.sum(axis=1), 1.0)


@pytest.mark.parametrize("region", ["north-america", "europe"])
def test_regions_are_data(prevalence_document, region):
    table = Prevalence.from_json(json.dumps(prevalence_document), region)
    assert table.mark == "memory"
    assert len(table.weights) > 40


def test_an_unknown_region_is_named(prevalence_document):
    with pytest.raises(ValueError, match="mars"):
        Prevalence.from_json(json.dumps(prevalence_document), "mars")


def test_a_bad_frequency_is_named(prevalence_document):
    broken = json.loads(json.dumps(prevalence_document))
    broken["regions"]["europe"]["weights"]["R-32"] = -1
    with pytest.raises(ValueError, match=r"R-32: got -1\.0"):
        Prevalence.from_json(json.dumps(broken), "europe")


def test_a_label_counts_as_often_as_labels_are_right(book):
    priors = book.priors(CylinderFacts(claimed_designation="R-12", claim_reliability=0.9), "field")
    at = book.designations.index("R-12")
    base = book.priors(NOTHING, "field").designation[at]
    assert priors.designation[at] == pytest.approx(0.9 + 0.1 * base)


def test_no_label_is_beyond_doubt(book):
    priors = book.priors(CylinderFacts(claimed_designation="R-12", claim_reliability=1.0), "field")
    assert priors.designation.max() < 0.99


def test_history_is_dirichlet(book, prevalence):
    counts = {"R-404A": 70}
    at = book.designations.index("R-404A")
    base = book.priors(NOTHING, "field").designation[at]
    strength = prevalence.history_strength
    expected = (70 + strength * base) / (70 + strength)
    assert book.priors(CylinderFacts(history=counts), "field").designation[at] == pytest.approx(expected)


def test_flat_forgets_label_and_history(book):
    facts = CylinderFacts(claimed_designation="R-12", history={"R-404A": 50})
    priors = book.priors(facts, "flat")
    assert np.allclose(priors.designation, priors.designation[0])
    assert np.allclose(
        priors.states[:, 0][np.isclose(priors.states[:, 3], 0)].max(), priors.states[:, 0].max()
    )


def test_pure_refrigerants_do_not_shift(book):
    priors = book.priors(NOTHING, "field")
    assert priors.state("shifted")[book.designations.index("R-22")] == 0
    assert priors.state("shifted")[book.designations.index("R-407C")] > 0


def test_records_name_the_likely_partner(book):
    facts = CylinderFacts(recorded_contents={"R-410A": 8.0, "R-22": 1.0})
    priors = book.priors(facts, "field")
    at = book.designations.index("R-410A")
    partner = priors.partner[at]
    assert priors.designation.argmax() == at
    assert partner.argmax() == list(book._second).index(book.designations.index("R-22"))


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (CylinderFacts(claimed_designation="R-9999"), "claimed_designation"),
        (CylinderFacts(claimed_designation="R-22", claim_reliability=1.2), "claim_reliability"),
        (CylinderFacts(history={"R-22": -1}), "history.R-22"),
        (CylinderFacts(recorded_contents={"R-9999": 1.0}), "recorded_contents"),
    ],
)
def test_bad_facts_are_named(book, facts, field):
    with pytest.raises(InvalidEvidence) as caught:
        book.priors(facts, "field")
    assert caught.value.field == field


def test_an_unknown_prior_is_named(book):
    with pytest.raises(InvalidEvidence, match="field or flat"):
        book.priors(NOTHING, "vague")


def believed(designation, partners=None, **states):
    return BelievedContent(designation, states, partners or {})


def test_earlier_readings_take_the_place_of_label_and_record(book):
    carried = (believed("R-454B", none=0.5), believed("R-410A", none=0.49))
    facts = CylinderFacts(claimed_designation="R-410A", recorded_contents={"R-410A": 6.0}, carried=carried)
    priors = book.priors(facts, "field")
    first, second = (priors.designation[book.designations.index(name)] for name in ("R-454B", "R-410A"))
    base = book.priors(NOTHING, "field").designation
    trust = CARRIED_TRUST * 0.99
    assert first == pytest.approx((1 - trust) * base[book.designations.index("R-454B")] + trust * 0.5 / 0.99)
    assert second - first < base[book.designations.index("R-410A")]
    assert priors.designation.sum() == pytest.approx(1.0)


def test_what_was_unrecognised_carries_no_name(book):
    carried = (believed("R-454B", none=0.1),)
    priors = book.priors(CylinderFacts(carried=carried), "field")
    assert priors.designation[book.designations.index("R-454B")] < 0.2


def test_a_suspected_mixture_is_carried_with_its_partners(book):
    carried = (believed("R-410A", {"R-22": 0.6, "R-134a": 0.2}, none=0.1, mixed=0.8, air=0.1),)
    priors, base = (book.priors(facts, "field") for facts in (CylinderFacts(carried=carried), NOTHING))
    row = book.designations.index("R-410A")
    assert priors.state("mixed")[row] > 0.6 > base.state("mixed")[row]
    assert priors.state("vapour-only")[row] == pytest.approx(base.state("vapour-only")[row])
    assert priors.states[row].sum() == pytest.approx(1.0)
    assert priors.partner[row].sum() == pytest.approx(1.0)
    assert priors.partner[row].max() == pytest.approx(0.1 * base.partner[row].max() + 0.9 * 0.75, abs=0.05)
    other = book.designations.index("R-22")
    assert priors.states[other] == pytest.approx(base.states[other])


def test_a_probability_that_is_none_is_named(book):
    with pytest.raises(InvalidEvidence, match=r"carried\.R-22"):
        book.priors(CylinderFacts(carried=(believed("R-22", none=1.5),)), "field")
