"""What turns out is kept beside the verdict that stood before, scored against it, and learned from."""

from datetime import timedelta

import pytest

from service.cylinders.judgement.belief import Source
from service.operations import analyses, care, cylinders, pairs, scores, verdicts
from service.operations.analyses import NewAnalysis
from service.operations.care import Entry
from service.operations.pairs import NewPair
from service.operations.support import judgements
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored
from service.store.paging import PageRequest
from service.verdict.reading_conditions import temperature_uncertainty_k
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge


def judged(services: Services, actor: Actor, serial: str, **values: object) -> int:
    """A cylinder with one settled pair; answers the id of its verdict."""
    cylinders.register(services, actor, serial, {"place": "shop", **values})
    return read(services, actor, serial)


def read(services: Services, actor: Actor, serial: str) -> int:
    pressure = PressureReading(absolute_pa=1_044_000.0)
    found = pairs.record(services, actor, NewPair(serial=serial, temp_k=298.0, pressure=pressure))
    assert found.verdict is not None
    return found.verdict.id


def laboratory(serial: str, name: str = "R-22", others: float = 0.1, **values: object) -> NewAnalysis:
    return NewAnalysis(serial, "laboratory", name, other_refrigerants_percent=others, **values)  # type: ignore[arg-type]


def test_a_result_is_scored_against_the_verdict_that_stood_before(services: Services, actor: Actor) -> None:
    before = judged(services, actor, "HM-1")
    found = analyses.record(services, actor, laboratory("HM-1"))
    assert (found.verdict_id, found.designation, found.state) == (before, "R-22", "none")
    assert verdicts.newest(services, actor, "HM-1").id > before
    (case,) = scores.cases(services, actor, [found]).values()
    assert (case.probability, case.right_first, case.covered) == (pytest.approx(0.97), True, True)


def test_a_second_result_is_not_scored_against_what_the_first_one_taught(
    services: Services, actor: Actor, clock: Clock
) -> None:
    before = judged(services, actor, "HM-1")
    analyses.record(services, actor, laboratory("HM-1"))
    clock.forward(hours=1)
    read(services, actor, "HM-1")
    second = analyses.record(services, actor, NewAnalysis("HM-1", "credit", "R-22"))
    assert second.verdict_id == before
    assert scores.read(services, actor).overall.cases == 1
    assert scores.read(services, actor, "credit").overall.cases == 1


def test_results_by_the_older_ways_are_scored_too(services: Services, actor: Actor) -> None:
    before = judged(services, actor, "HM-1"), judged(services, actor, "HM-2")
    purity = {"laboratory": "L", "designation": "r22", "other_refrigerants_percent": 3.0}
    care.record(services, actor, Entry("HM-1", "purity-result", passed=False, details=purity))  # type: ignore[arg-type]
    parts = [{"designation": "R-134a", "mass_fraction": 1.0}]
    seen = {"laboratory_composition": {"parts": parts, "mass_fraction_uncertainty": 0.003}}
    care.record(services, actor, Entry("HM-2", "observation", details=seen))  # type: ignore[arg-type]
    kept = analyses.listed(services, actor, PageRequest(10), serial=None).items
    assert [(one.designation, one.state, one.verdict_id) for one in kept] == [
        ("R-134a", "none", before[1]),
        ("R-22", "mixed", before[0]),
    ]
    found = scores.read(services, actor)
    assert (found.overall.right_first.count, found.overall.right_first.of) == (1, 2)
    assert (found.overall.contamination_missed.count, found.overall.contamination_missed.of) == (1, 1)


def test_a_laboratory_is_believed_and_a_reclaimer_of_what_has_gone_is_not(
    services: Services, actor: Actor
) -> None:
    judged(services, actor, "HM-1")
    analyses.record(services, actor, NewAnalysis("HM-1", "acceptance", "R-134a"))
    believed = judgements.of_serial(services, actor, "HM-1").judgement.belief
    assert all(one.source is not Source.ANALYSIS for one in believed.contents)
    analyses.record(
        services, actor, laboratory("HM-1", mass_fractions={"R-32": 0.5, "R-125": 0.5}, name="R-410A")
    )
    assert services.judge.asked[-1][1].carried[0].designation == "R-410A"  # type: ignore[attr-defined]


def test_a_result_on_earlier_contents_is_scored_and_changes_nothing_now(
    services: Services, actor: Actor, clock: Clock
) -> None:
    before = judged(services, actor, "HM-1")
    sampled = services.now()
    clock.forward(hours=2)
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, "HM-1", lock=True)
        stored.open_epoch(work, cylinder, at=services.now(), cause="evacuated", contents=None)
    asked = len(services.judge.asked)  # type: ignore[attr-defined]
    clock.forward(hours=2)
    found = analyses.record(services, actor, laboratory("HM-1", "R-134a", sampled_at=sampled))
    assert (found.epoch, found.verdict_id) == (1, before)
    assert len(services.judge.asked) == asked  # type: ignore[attr-defined]


def test_prevalence_learns_from_what_was_established_never_from_verdicts(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    for number in range(3):
        judged(services, actor, f"HM-{number}")
    assert judge.asked[-1][1].history == {}
    analyses.record(services, actor, laboratory("HM-0", "R-134a"))
    analyses.record(services, actor, NewAnalysis("HM-1", "sealed", "R-507A"))
    analyses.record(services, actor, NewAnalysis("HM-2", "credit", "R-134a"))
    judged(services, actor, "HM-3")
    assert judge.asked[-1][1].history == {"R-134a": 2}
    reasons = verdicts.newest(services, actor, "HM-3").found.reasons
    assert any(
        "2 cylinders of this owner whose contents were established (R-134a 2)" in one for one in reasons
    )
    read(services, actor, "HM-0")
    assert judge.asked[-1][1].history == {"R-134a": 1}, "a cylinder vouches for itself"
    found = {one.designation: one for one in scores.read(services, actor).prevalence}
    assert found["R-134a"].counted == 2
    assert found["R-134a"].share > found["R-134a"].by_table
    assert sum(one.share for one in found.values()) == pytest.approx(
        1 - services.policy.prevalence.other_share * 30 / 32
    )


def test_a_rejection_that_names_no_refrigerant_is_scored_for_what_was_with_it_alone(
    services: Services, actor: Actor
) -> None:
    judged(services, actor, "HM-1")
    kept = analyses.record(services, actor, NewAnalysis("HM-1", "rejection", contamination="mixed"))
    judged(services, actor, "HM-2")
    analyses.record(services, actor, laboratory("HM-2"))
    found = scores.read(services, actor)
    assert (found.overall.cases, found.overall.right_first.of, found.unscored) == (1, 1, 0)
    assert (found.overall.contamination_missed.count, found.overall.contamination_missed.of) == (1, 1)
    assert found.overall.contamination_brier.mean == pytest.approx(0.5)
    assert found.by_contamination["none-detected"].contamination_missed.of == 1
    assert (list(found.by_refrigerant), found.by_kind["rejection"].cases) == (["R-22"], 0)
    assert sum(one.right.of for one in found.reliability) == 1
    assert scores.cases(services, actor, [kept]) == {}


def test_a_result_without_a_verdict_is_kept_and_not_scored(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "HM-1", {"place": "shop"})
    analyses.record(services, actor, laboratory("HM-1"))
    found = scores.read(services, actor)
    assert (found.overall.cases, found.unscored) == (0, 1)


def test_groups_are_by_what_was_found_and_read_with(services: Services, actor: Actor) -> None:
    judged(services, actor, "HM-1")
    analyses.record(services, actor, laboratory("HM-1"))
    found = scores.read(services, actor)
    assert list(found.by_identity) == ["identified"]
    assert list(found.by_contamination) == ["none-detected"]
    assert list(found.by_refrigerant) == ["R-22"]
    assert list(found.by_kind) == ["laboratory"]
    (name,) = found.by_instrument_class
    usual = services.policy.instruments
    by_hand_k = temperature_uncertainty_k(usual.temperature_bias_k)
    assert name == f"{by_hand_k:.2g} K, {usual.pressure_bias_pa / 1e3:.2g} kPa"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"kind": "guess", "designation": "R-22"}, "kind"),
        ({"kind": "laboratory"}, "designation"),
        ({"kind": "laboratory", "designation": "R-9999"}, "designation"),
        ({"kind": "laboratory", "mass_fractions": {"R-22": 0.3}}, "composition.parts"),
        ({"kind": "rejection", "contamination": "dirt"}, "contamination"),
        ({"kind": "opened", "designation": "R-22", "sampled_at": "tomorrow"}, "at"),
    ],
)
def test_what_establishes_nothing_is_refused(
    services: Services, actor: Actor, values: dict[str, object], field: str
) -> None:
    judged(services, actor, "HM-1")
    if values.get("sampled_at"):
        values["sampled_at"] = services.now() + timedelta(days=1)
    with pytest.raises(Invalid) as refused:
        analyses.record(services, actor, NewAnalysis("HM-1", **values))  # type: ignore[arg-type]
    assert [error.field for error in refused.value.errors] == [field]
    with pytest.raises(Invalid):
        scores.read(services, actor, "guess")


def test_scores_take_a_constant_number_of_queries(services: Services, actor: Actor) -> None:
    from tests.support.queries import recorded

    def asked() -> int:
        with recorded(services.database.engine) as statements:
            scores.read(services, actor)
        return len(statements)

    judged(services, actor, "HM-1")
    analyses.record(services, actor, laboratory("HM-1"))
    one = asked()
    for number in range(2, 5):
        judged(services, actor, f"HM-{number}")
        analyses.record(services, actor, laboratory(f"HM-{number}"))
    assert asked() == one
