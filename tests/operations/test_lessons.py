"""What a cylinder teaches a set: by results that come in later, and by other instruments that are known well."""

import pytest

from service.operations import analyses, cylinders, hookups, instruments
from service.operations.analyses import NewAnalysis
from service.operations.hookups import NewHookup
from service.operations.instruments import NewCheck
from service.operations.support.context import Actor, Services
from tests.operations.test_instruments import CLAMP, GAUGE, read_again, read_one
from tests.support.judge import ScriptedJudge


def unlabelled(services: Services, actor: Actor, serial: str, gauge: str = GAUGE, clamp: str = CLAMP) -> None:
    """One cylinder without a label, read once by a set."""
    if serial not in {one.serial for one in _registered(services, actor)}:
        cylinders.register(services, actor, serial, {"place": "shop"})
    hookup = hookups.attach(services, actor, NewHookup(serial, gauge, clamp))
    read_again(services, actor, hookup.id)
    hookups.detach(services, actor, hookup.id)


def _registered(services: Services, actor: Actor) -> list:  # type: ignore[type-arg]
    from service.store import cylinders as stored

    with services.database.reading(actor.organisation_id) as work:
        return stored.everything(work)


def off_k(services: Services, actor: Actor, clamp: str = CLAMP) -> float:
    (one,) = instruments.read(services, actor, clamp).sets
    return one.row.combined_k


def test_a_result_that_comes_in_later_teaches_the_set_that_had_read_the_contents(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.off_k = 0.8
    unlabelled(services, actor, "HM-1")
    assert off_k(services, actor) == pytest.approx(0.0, abs=0.01)
    analyses.record(services, actor, NewAnalysis("HM-1", "laboratory", "R-22"))
    assert 0.3 < off_k(services, actor) < 0.85


def test_it_is_learned_once_however_many_results_come_in(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.off_k = 0.8
    unlabelled(services, actor, "HM-1")
    analyses.record(services, actor, NewAnalysis("HM-1", "laboratory", "R-22"))
    (once,) = instruments.read(services, actor, CLAMP).sets
    for _ in range(3):
        analyses.record(services, actor, NewAnalysis("HM-1", "laboratory", "R-22"))
    (again,) = instruments.read(services, actor, CLAMP).sets
    assert again.row.combined_k == pytest.approx(once.row.combined_k)
    assert again.row.uncertainty_k == pytest.approx(once.row.uncertainty_k)
    assert again.belief.pairs == pytest.approx(once.belief.pairs)


def test_what_was_learned_since_is_kept(services: Services, actor: Actor, judge: ScriptedJudge) -> None:
    judge.off_k = 0.8
    unlabelled(services, actor, "HM-0")
    instruments.check(services, actor, NewCheck(CLAMP, "ice-bath", "temperature_k", 0.5))
    read_one(services, actor, 2)
    (before,) = instruments.read(services, actor, CLAMP).sets
    analyses.record(services, actor, NewAnalysis("HM-0", "laboratory", "R-22"))
    (after,) = instruments.read(services, actor, CLAMP).sets
    assert after.belief.pairs > before.belief.pairs + 0.5
    assert after.belief.moments[0][0] == pytest.approx(0.5, abs=0.1), "the ice bath"
    assert after.row.combined_k == pytest.approx(0.8, abs=0.15)


@pytest.mark.parametrize(
    "new",
    [
        NewAnalysis("HM-1", "credit", "R-22"),
        NewAnalysis("HM-1", "rejection", contamination="mixed"),
        NewAnalysis("HM-1", "laboratory", "R-22", other_refrigerants_percent=4.0),
    ],
)
def test_a_result_that_does_not_say_what_was_in_it_teaches_nothing(
    services: Services, actor: Actor, judge: ScriptedJudge, new: NewAnalysis
) -> None:
    judge.off_k = 0.8
    unlabelled(services, actor, "HM-1")
    before = instruments.course(services, actor, CLAMP, GAUGE)
    analyses.record(services, actor, new)
    assert instruments.course(services, actor, CLAMP, GAUGE) == before


def test_another_set_speaks_for_the_contents_once_it_is_known_well(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    unlabelled(services, actor, "HM-A")
    unlabelled(services, actor, "HM-A", "gauge-2", "clamp-2")
    assert judge.witnesses[-1] == (), "nobody knows how well it reads"
    for number in range(5):
        read_one(services, actor, number)
    unlabelled(services, actor, "HM-B")
    judge.off_k = 1.0
    unlabelled(services, actor, "HM-B", "gauge-2", "clamp-2")
    (witness,) = judge.witnesses[-1]
    assert (witness.temperature_device, witness.pressure_device) == (CLAMP, GAUGE)
    assert off_k(services, actor, "clamp-2") > 0.3


def test_a_set_that_shares_an_instrument_or_is_doubted_is_no_witness(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    for number in range(5):
        read_one(services, actor, number)
    unlabelled(services, actor, "HM-A")
    unlabelled(services, actor, "HM-A", "gauge-2", CLAMP)
    assert judge.witnesses[-1] == ()
    judge.off_k = 1.8
    for number in range(5, 12):
        read_one(services, actor, number)
    unlabelled(services, actor, "HM-B")
    unlabelled(services, actor, "HM-B", "gauge-3", "clamp-3")
    assert judge.witnesses[-1] == ()
