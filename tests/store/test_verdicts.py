"""Verdicts are stored as versioned documents; what older versions stored is still read."""

import json
from pathlib import Path

import pytest

from service.cylinders.judgement.belief import Kind
from service.operations import cylinder_state, cylinders
from service.operations.support.lookup import by_serial
from service.store import overview, verdicts
from service.store.tables import cylinders as cylinder_table
from service.store.tables import verdicts as verdict_table

OLDEST = json.loads(
    (Path(__file__).parents[1] / "verdict" / "data" / "stored_without_version.json").read_text(
        encoding="utf-8"
    )
)


@pytest.fixture
def stored(any_services, any_actor, clock):
    """One cylinder with every document of the oldest version; the one on air is its newest."""
    cylinders.register(any_services, any_actor, "A-1", {"place": "shop"})
    with any_services.database.writing(any_actor.organisation_id) as work:
        cylinder_id = overview.ids_of(work, ["A-1"])[0]
        ids = {}
        for name, document in OLDEST.items():
            ids[name] = work.insert(
                verdict_table,
                cylinder_id=cylinder_id,
                epoch=1,
                pair_id=None,
                reached_at=clock(),
                identity_finding=document["identity"]["finding"],
                designation=None,
                probability=None,
                contamination_finding=document["contamination"]["finding"],
                contents_finding=document["contents_state"]["finding"],
                disposition_code=document["disposition"]["code"],
                model_version=document["model_version"],
                document=document,
            )
        work.update(cylinder_table, cylinder_table.c.id == cylinder_id, verdict_id=ids["air"])
    return cylinder_id, ids


def test_what_the_first_version_stored_is_read(any_services, any_actor, stored):
    _, ids = stored
    with any_services.database.reading(any_actor.organisation_id) as work:
        for name, verdict_id in ids.items():
            kept = verdicts.by_id(work, verdict_id)
            assert kept is not None
            assert kept.found.disposition.text == OLDEST[name]["disposition"]["text"]
        assert set(verdicts.gists(work, ids.values())) == set(ids.values())
        cylinder = by_serial(work, "A-1")
        state = cylinder_state.of(any_services, work, cylinder)
    assert list(state.assessment.candidates) == [
        c["designation"] for c in OLDEST["air"]["identity"]["candidates"]
    ]
    believed = {one.designation: one.probability for one in state.assessment.belief.contents}
    for candidate in OLDEST["air"]["identity"]["candidates"]:
        assert believed[candidate["designation"]] == pytest.approx(candidate["probability"], rel=1e-6)
    assert state.assessment.belief.probability(Kind.AIR) > 0.5
