import copy
import json
from pathlib import Path

import pytest

from service.verdict import document
from service.verdict.document import UnreadableDocument, from_json, identity_from_json, to_json
from service.verdict.model import Alternative, CylinderFacts

# Written by the version before documents had one, on the shipped tables.
OLDEST = json.loads(
    (Path(__file__).parent / "data" / "stored_without_version.json").read_text(encoding="utf-8")
)


def through_json(value):
    return json.loads(json.dumps(value, allow_nan=False))


@pytest.mark.parametrize("factor", [0.02, 0.9, 1.0, 1.1, 4.0])
def test_a_verdict_comes_back_as_it_was(engine, at, factor):
    facts = CylinderFacts(claimed_designation="R-22", water_volume_m3=0.0216)
    verdict = engine.verdict([at("R-22", factor=factor)], facts, explain=True, chart=True)
    kept = through_json(to_json(verdict))
    assert kept["version"] == document.VERSION
    assert from_json(kept) == verdict


@pytest.mark.parametrize("name", OLDEST)
def test_a_document_without_a_version_is_read(name):
    old = OLDEST[name]
    verdict = from_json(old)
    assert verdict.identity.finding == old["identity"]["finding"]
    assert [c.designation for c in verdict.identity.candidates] == [
        c["designation"] for c in old["identity"]["candidates"]
    ]
    assert verdict.contamination.finding == old["contamination"]["finding"]
    assert dict(verdict.contamination.probabilities) == old["contamination"]["probabilities"]
    assert (verdict.contamination.air is None) == (old["contamination"]["air"] is None)
    assert verdict.disposition.text == old["disposition"]["text"]
    assert [(x.action, x.expected_information_bits) for x in verdict.next_measurement.alternatives] == [
        tuple(pair) for pair in old["next_measurement"]["alternatives"]
    ]
    assert all(x.code != "other" for x in verdict.next_measurement.alternatives)
    assert verdict.claim is None
    assert from_json(through_json(to_json(verdict))) == verdict


def test_the_sample_has_every_kind_of_finding():
    assert {case["identity"]["finding"] for case in OLDEST.values()} == {
        "identified",
        "narrowed",
        "unrecognised",
    }
    assert {"none-detected", "air", "undecided"} <= {c["contamination"]["finding"] for c in OLDEST.values()}
    assert any(case["next_measurement"]["alternatives"] for case in OLDEST.values())


def test_alternatives_get_their_codes_back():
    following = OLDEST["narrowed-wrong-label"]["next_measurement"]["alternatives"]
    read = from_json(OLDEST["narrowed-wrong-label"]).next_measurement.alternatives
    assert read[0] == Alternative(read[0].code, following[0][0], None, following[0][1])


def test_the_identity_alone_can_be_read():
    old = OLDEST["air"]
    assert identity_from_json(old["identity"]) == from_json(old).identity


def test_what_a_newer_version_adds_is_passed_over(engine, at):
    verdict = engine.verdict([at("R-22")])
    newer = {**to_json(verdict), "version": document.VERSION + 1, "omen": [1, 2]}
    assert from_json(newer) == verdict


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (
            ("identity", "candidates", 0, "probability"),
            "much",
            r"identity\.candidates\.0\.probability: got 'much'",
        ),
        (("identity", "candidates"), None, r"identity\.candidates: got None, expected a list"),
        (("contamination", "probabilities"), 3, r"contamination\.probabilities: got 3, expected an object"),
        (("disposition", "code"), 7, r"disposition\.code: got 7, expected a str"),
        (("identity", "candidates", 0, "probability"), True, "expected a float"),
        (("version",), "2", "version: got '2'"),
    ],
)
def test_what_is_no_verdict_is_refused_by_place_and_value(engine, at, path, value, said):
    kept = copy.deepcopy(to_json(engine.verdict([at("R-22")])))
    inner = kept
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    with pytest.raises(UnreadableDocument, match=said):
        from_json(kept)


def test_what_is_missing_is_named(engine, at):
    kept = to_json(engine.verdict([at("R-22")]))
    del kept["identity"]["finding"]
    with pytest.raises(UnreadableDocument, match=r"identity: .* expected also finding"):
        from_json(kept)


def test_numbers_that_are_none_become_none():
    assert document.plain({"a": float("nan"), "b": (float("inf"), 1.5)}) == {"a": None, "b": [None, 1.5]}
