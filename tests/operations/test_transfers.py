import subprocess
import sys
import threading
import time
from datetime import timedelta

import pytest

from service.operations import checks, cylinders, pairs, transfers, verdicts
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid, NotAllowed, NotFound
from service.operations.support.readings import Reading
from service.operations.support.weights import Weighing
from service.store import cylinders as stored
from service.store.paging import PageRequest
from tests.support.clock import Clock
from tests.support.fleet import GOOD, as_scope, delivered, evacuate, put_in, take_out
from tests.support.judge import ScriptedJudge


def contents_of(services: Services, actor: Actor, serial: str = "HM-1") -> dict:
    with services.database.reading(actor.organisation_id) as work:
        cylinder = stored.by_serial(work, serial)
        return stored.epoch_of(work, cylinder, cylinder.epoch).contents


def codes(refused) -> set[str]:
    return {reason.code for reason in refused.value.reasons}


def everything(services: Services, actor: Actor) -> tuple:
    """All that a half-written use case could leave behind."""
    with services.database.reading(actor.organisation_id) as work:
        from service.store.tables import alarms, care, cylinders, epochs, events, exchanges, holds
        from service.store.tables import transfers as moved

        tables = (cylinders, epochs, events, moved, holds, exchanges, care, alarms)
        return tuple(tuple(map(tuple, work.connection.execute(table.select()))) for table in tables)


def test_a_transfer_in_begins_a_new_epoch_and_is_weighed(services, actor):
    delivered(services, actor)
    done = put_in(services, actor, 6.0, technician="A. Field", certification_number="CERT-1")
    cylinder = cylinders.read(services, actor, "HM-1")
    assert (cylinder.epoch, cylinder.gross_mass_kg, cylinder.claimed_designation) == (
        2,
        pytest.approx(18.4),
        "R-22",
    )
    assert done.transfer.designation == "R-22" and done.transfer.gross_after_kg == pytest.approx(18.4)
    assert contents_of(services, actor)["masses_kg"] == {"R-22": pytest.approx(6.0)}


def test_the_pairs_of_before_no_longer_speak(services, actor, judge: ScriptedJudge, clock: Clock):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    reading = NewPair(297.95, PressureReading(absolute_pa=1.04e6), serial="HM-1")
    pairs.record(services, actor, reading)
    assert verdicts.newest(services, actor, "HM-1").designation == "R-22"
    clock.forward(seconds=60)
    put_in(services, actor, 2.0)
    with pytest.raises(NotFound):
        verdicts.newest(services, actor, "HM-1")


def test_a_transfer_entered_late_takes_the_pairs_settled_since_with_it(services, actor, judge, clock: Clock):
    delivered(services, actor)
    clock.forward(seconds=3600)
    pairs.record(services, actor, NewPair(297.95, PressureReading(absolute_pa=1.04e6), serial="HM-1"))
    judge.asked.clear()
    put_in(services, actor, 6.0, occurred_at=clock() - timedelta(minutes=30))
    assert verdicts.newest(services, actor, "HM-1").epoch == 2
    assert judge.asked[-1][1].recorded_contents == {"R-22": pytest.approx(6.0)}


def test_every_broken_rule_is_listed_and_nothing_is_written(services, actor):
    delivered(services, actor, marks="DOT-4BA350", requalification_stamp="1-20")
    before = everything(services, actor)
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 30.0, "R-410A")
    assert codes(refused) >= {"rating-55c", "requalification-overdue", "fill-80-percent", "fill-55c"}
    assert all(reason.source and reason.detail and reason.mark for reason in refused.value.reasons)
    assert everything(services, actor) == before


def test_a_dry_run_says_the_same_as_the_transfer(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    incoming = checks.Incoming("R-410A", 20.0)
    dry = checks.check(services, actor, "HM-1", incoming)
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 20.0, "R-410A")
    assert codes(refused) == {breach.rule.code for breach in dry.check.breaches}
    assert dry.liquid_full_temp_k is not None and 0.9 < dry.liquid_fraction <= 1.0


def test_mixing_is_a_supervisors_decision_with_a_reason_that_is_recorded(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    with pytest.raises(NotAllowed):
        put_in(
            services,
            as_scope(actor, "technician"),
            2.0,
            "R-410A",
            override_reason="collecting for destruction",
        )
    done = put_in(
        services, as_scope(actor, "supervisor"), 2.0, "R-410A", override_reason="collecting for destruction"
    )
    assert done.transfer.overridden == ["one-refrigerant"]
    assert done.transfer.override_reason == "collecting for destruction"
    assert contents_of(services, actor)["shares"] == pytest.approx({"R-22": 0.75, "R-410A": 0.25})


@pytest.mark.parametrize(
    ("mass_kg", "more", "code"),
    [
        (2.0, {"marks": "DOT-4BA350"}, "rating-55c"),
        (40.0, {}, "fill-80-percent"),
        (2.0, {"marks": "DOT-39 NRC 400/500"}, "non-refillable"),
    ],
)
def test_rating_fill_and_non_refillable_are_nobodys_to_override(services, actor, mass_kg, more, code):
    delivered(services, actor, **more)
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, mass_kg, "R-410A", override_reason="because")
    assert code in codes(refused)


def test_a_mixture_falls_under_an_alarm(services, actor):
    from service.operations import alarms

    delivered(services, actor)
    put_in(services, actor, 6.0)
    put_in(services, actor, 2.0, "R-410A", override_reason="collecting for destruction")
    standing = alarms.listed(services, actor, PageRequest(), open_only=True).items
    assert [alarm.code for alarm in standing] == ["mixed"]
    take_out(services, actor, 8.0)
    evacuate(services, actor)
    assert alarms.listed(services, actor, PageRequest(), open_only=True).items == []


def test_an_unknown_goes_into_an_empty_cylinder_of_its_own_after_a_check(services, actor, judge):
    delivered(services, actor)
    at_rest = Reading(297.95, PressureReading(absolute_pa=1.04e6))
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 2.0, None)
    assert codes(refused) == {"unknown-unmeasured"}
    done = put_in(services, actor, 2.0, "unknown", at_rest=at_rest)
    assert (
        done.transfer.designation is None
        and done.transfer.standing["verdict"]["identity"]["finding"] == "identified"
    )
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 2.0, "R-22")
    assert codes(refused) == {"contents-unknown"}


def test_equipment_that_contradicts_its_nameplate_is_taken_for_unknown(services, actor, judge):
    delivered(services, actor)
    put_in(services, actor, 2.0, "R-410A")
    judge.designation = "R-22"
    at_rest = Reading(297.95, PressureReading(absolute_pa=1.04e6))
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 2.0, "R-410A", at_rest=at_rest)
    assert codes(refused) == {"nameplate-contradicted", "unknown-alone"}
    judge.designation = "R-410A"
    assert put_in(services, actor, 2.0, "R-410A", at_rest=at_rest).transfer.standing["nameplate"] == "R-410A"


def test_from_cylinder_to_cylinder_both_or_neither(services, actor):
    delivered(services, actor)
    delivered(services, actor, "HM-2")
    delivered(services, actor, "HM-3", marks="DOT-4BA350", evacuated=True)
    put_in(services, actor, 6.0, "R-410A")
    done = take_out(services, actor, 4.0, to_cylinder="HM-2")
    assert done.counterpart.cylinder == "HM-2" and done.counterpart.other_cylinder == "HM-1"
    assert contents_of(services, actor, "HM-2")["masses_kg"] == {"R-410A": pytest.approx(4.0)}
    before = everything(services, actor)
    with pytest.raises(Conflict) as refused:
        take_out(services, actor, 1.0, to_cylinder="HM-3")
    assert codes(refused) == {"rating-55c"} and everything(services, actor) == before
    with pytest.raises(Invalid):
        take_out(services, actor, 1.0, to_cylinder="HM-1")


def test_emptied_is_not_evacuated(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    take_out(services, actor, 6.0)
    assert cylinders.read(services, actor, "HM-1").epoch == 3
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 2.0, "R-410A")
    assert codes(refused) == {"not-evacuated"}
    evacuate(services, actor)
    put_in(services, actor, 2.0, "R-410A")


def test_a_blend_taken_out_as_vapour_is_warned_of_and_its_loss_becomes_a_prior(services, actor, judge):
    delivered(services, actor)
    put_in(services, actor, 10.0, "R-407C")
    done = take_out(services, actor, 2.5, phase="vapour")
    assert [caution.rule.code for caution in done.check.cautions] == ["vapour-shifts-blend"]
    assert contents_of(services, actor)["vapour_lost_fraction"] == pytest.approx(0.25)
    assert cylinders.read(services, actor, "HM-1").epoch == 3
    pairs.record(services, actor, NewPair(297.95, PressureReading(absolute_pa=1.04e6), serial="HM-1"))
    assert judge.asked[-1][1].vapour_lost_fraction == pytest.approx(0.25)


def test_vapour_of_a_pure_refrigerant_shifts_nothing(services, actor):
    delivered(services, actor)
    put_in(services, actor, 10.0, "R-22")
    assert take_out(services, actor, 2.5, phase="vapour").check.cautions == ()
    assert cylinders.read(services, actor, "HM-1").epoch == 2


WEIGHINGS = [
    (Weighing(gross_before_kg=12.4, gross_after_kg=18.4), 6.0),
    (Weighing(gross_after_kg=18.4), 6.0),
    (Weighing(6.0, gross_after_kg=18.4), 6.0),
    (Weighing(6.0), 6.0),
]


@pytest.mark.parametrize(("weighing", "moved"), WEIGHINGS)
def test_net_from_gross_and_tare(services, actor, weighing, moved):
    delivered(services, actor)
    done = put_in(services, actor, None, weighing=weighing)
    assert done.transfer.mass_kg == pytest.approx(moved)
    assert cylinders.read(services, actor, "HM-1").gross_mass_kg == pytest.approx(18.4)


@pytest.mark.parametrize(
    ("weighing", "field"),
    [
        (Weighing(), "mass_kg"),
        (Weighing(-1.0), "mass_kg"),
        (Weighing(gross_after_kg=10.0), "gross_after_kg"),
        (Weighing(gross_before_kg=15.0, gross_after_kg=14.0), "gross_after_kg"),
        (Weighing(3.0, gross_before_kg=12.4, gross_after_kg=18.4), "mass_kg"),
        (Weighing(from_live=True), "from_live"),
    ],
)
def test_masses_that_make_no_sense_are_refused_with_the_field(services, actor, weighing, field):
    delivered(services, actor)
    before = everything(services, actor)
    with pytest.raises(Invalid) as refused:
        put_in(services, actor, None, weighing=weighing)
    assert refused.value.errors[0].field == field
    assert everything(services, actor) == before


def test_a_scale_that_has_seen_it_already_is_not_counted_twice(services, actor, clock: Clock):
    delivered(services, actor)
    clock.forward(seconds=600)
    pairs.record(
        services, actor, NewPair(297.95, PressureReading(absolute_pa=1.04e6), serial="HM-1", mass_kg=24.4)
    )
    put_in(services, actor, 12.0)
    assert cylinders.read(services, actor, "HM-1").gross_mass_kg == pytest.approx(24.4)
    assert contents_of(services, actor)["mass_kg"] == pytest.approx(12.0)


def test_a_future_moment_and_one_before_the_last_are_refused(services, actor, clock: Clock):
    delivered(services, actor)
    clock.forward(seconds=3600)
    put_in(services, actor, 1.0)
    for moment in (clock() + timedelta(hours=1), clock() - timedelta(minutes=10)):
        with pytest.raises(Invalid) as refused:
            put_in(services, actor, 1.0, occurred_at=moment)
        assert refused.value.errors[0].field == "at"


def test_two_refrigerants_at_once_are_refused(services, actor):
    delivered(services, actor)
    with pytest.raises(Invalid) as refused:
        put_in(services, actor, 1.0, "R-22, R-410A")
    assert refused.value.errors[0].field == "refrigerant"


def test_no_more_out_than_is_in(services, actor):
    delivered(services, actor)
    put_in(services, actor, 2.0)
    with pytest.raises((Conflict, Invalid)):
        take_out(services, actor, 3.0)


def test_two_technicians_in_two_threads_cannot_both_overfill(any_services, any_actor):
    delivered(any_services, any_actor)
    gate, answers = threading.Barrier(2), []

    def try_to_fill():
        gate.wait()
        try:
            put_in(any_services, any_actor, 12.0)
            answers.append("filled")
        except Conflict as refused:
            answers.append({reason.code for reason in refused.reasons})

    rivals = [threading.Thread(target=try_to_fill) for _ in range(2)]
    for rival in rivals:
        rival.start()
    for rival in rivals:
        rival.join()
    assert answers.count("filled") == 1
    refusal = next(answer for answer in answers if answer != "filled")
    assert "fill-80-percent" in refusal
    assert contents_of(any_services, any_actor)["mass_kg"] == pytest.approx(12.0)
    assert len(transfers.listed(any_services, any_actor, PageRequest(), serial="HM-1").items) == 1


@pytest.mark.slow
def test_two_technicians_in_two_processes_cannot_both_overfill(any_services, any_actor):
    delivered(any_services, any_actor)
    url = any_services.database.engine.url.render_as_string(hide_password=False)
    begin = f"{time.time() + 6.0}"
    command = [
        sys.executable,
        "-m",
        "tests.support.rivals",
        url,
        str(any_actor.organisation_id),
        "HM-1",
        "12.0",
        begin,
    ]
    rivals = [
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for _ in range(3)
    ]
    told = [rival.communicate(timeout=60) for rival in rivals]
    answers = [out.strip().splitlines()[-1] if out.strip() else errors for out, errors in told]
    assert answers.count("filled") == 1, told
    assert sum("fill-80-percent" in answer for answer in answers) == 2, told
    assert contents_of(any_services, any_actor)["mass_kg"] == pytest.approx(12.0)


def test_a_cylinder_by_claim_alone_says_so(services, actor):
    cylinders.register(
        services, actor, "HM-1", {**GOOD, "claimed_designation": "R-22", "gross_mass_kg": 15.0}
    )
    done = put_in(services, actor, 2.0)
    assert "claim-only" in {caution.rule.code for caution in done.check.cautions}
    assert contents_of(services, actor)["mass_kg"] == pytest.approx(4.6)
