import pytest

from service.verdict.errors import InvalidEvidence
from service.verdict.model import CylinderFacts, Pair


def test_no_evidence_is_refused(engine):
    with pytest.raises(InvalidEvidence):
        engine.verdict([])


def test_a_flat_prior_can_be_had(engine, at):
    field = engine.infer([at("R-12", factor=1.002)])
    flat = engine.infer([at("R-12", factor=1.002)], prior="flat")
    index = engine.space.designations.index("R-12")
    assert flat.identity[index] != pytest.approx(field.identity[index], abs=1e-3)
    assert engine.verdict([at("R-12")], prior="flat", explain=True).explain.prior_kind == "flat"


def test_an_unknown_claim_is_named(engine, at):
    with pytest.raises(InvalidEvidence, match="R-999"):
        engine.verdict([at("R-22")], CylinderFacts(claimed_designation="R-999"))


@pytest.mark.parametrize("pressure", [150.0, 2e3, 50e3])
def test_near_vacuum_is_empty_not_a_refrigerant(engine, pressure):
    verdict = engine.verdict([Pair(298.15, pressure, 0.1, 100.0, 0.3, 300.0)])
    assert verdict.identity.finding != "identified"
    assert verdict.contents_state.finding in ("vapour-only", "undecided")
    assert verdict.disposition.code != "keep"


@pytest.mark.parametrize("temp_k", [233.15, 333.15])
@pytest.mark.parametrize("pressure", [1e3, 1e5, 1e6, 5e6, 1.9e7])
def test_the_edges_of_the_range_never_crash(engine, temp_k, pressure):
    verdict = engine.verdict([Pair(temp_k, pressure, 0.1, 1e3, 0.3, 1e3)], explain=True, chart=True)
    assert verdict.reasons


def test_the_version_tells_the_tables(engine, at):
    assert engine.verdict([at("R-22")]).model_version.endswith("/unversioned")
