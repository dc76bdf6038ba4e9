"""One transaction takes the pair, the verdict, the alarms and the events."""

from datetime import timedelta

import pytest

from service.operations import alarms, analyses, cylinders, hookups, pairs, places, verdicts
from service.operations.analyses import NewAnalysis
from service.operations.hookups import NewHookup
from service.operations.pairs import NewPair
from service.operations.support import events
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid, NotFound
from service.operations.support.lookup import by_serial
from service.store import cylinders as stored
from service.store.paging import PageRequest
from service.verdict.errors import InvalidEvidence
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge
from tests.support.queries import recorded

PRESSURE = PressureReading(absolute_pa=1_044_000.0)
MARKS = {"place": "shop", "water_capacity_kg": 21.6, "tare_kg": 12.4, "claimed_designation": "r22"}


def typed(**values: object) -> NewPair:
    return NewPair(**{"temp_k": 297.95, "pressure": PRESSURE, "serial": "HM-1", **values})  # type: ignore[arg-type]


def register(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "HM-1", MARKS)


def test_a_pair_brings_a_verdict_and_its_events(
    any_services: Services, any_actor: Actor, judge: ScriptedJudge
) -> None:
    register(any_services, any_actor)
    recorded_pair = pairs.record(any_services, any_actor, typed())
    assert recorded_pair.verdict is not None
    assert recorded_pair.verdict.designation == "R-22"
    assert verdicts.newest(any_services, any_actor, "HM-1") == recorded_pair.verdict
    kinds = [event.type for event in events.follow(any_services, any_actor, 0)]
    assert kinds[-2:] == [events.PAIR_RECORDED, events.VERDICT_REACHED]
    (evidence, facts), *_ = judge.asked
    assert len(evidence) == 1
    assert facts.claimed_designation == "R-22"
    assert facts.water_volume_m3 == pytest.approx(0.021645, rel=1e-3)


def test_every_settled_pair_of_the_epoch_speaks(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    register(services, actor)
    pairs.record(services, actor, typed())
    pairs.record(services, actor, typed(temp_k=303.0, provisional=True))
    pairs.record(services, actor, typed(temp_k=310.0))
    assert [pair.temp_k for pair in judge.asked[-1][0]] == [297.95, 310.0]


def test_a_provisional_pair_is_kept_and_never_speaks(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    register(services, actor)
    told = pairs.record(services, actor, typed(provisional=True, reasons=("liquid-untested",)))
    assert (told.verdict, judge.asked) == (None, [])
    page = pairs.listed(services, actor, "HM-1", PageRequest(), epoch=None, provisional=True)
    assert [pair.reasons for pair in page.items] == [["liquid-untested"]]
    with pytest.raises(NotFound):
        verdicts.newest(services, actor, "HM-1")


def test_pairs_of_an_older_epoch_do_not_speak(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    register(services, actor)
    pairs.record(services, actor, typed())
    emptied = clock.forward(hours=1)
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, "HM-1", lock=True)
        stored.open_epoch(work, cylinder, at=emptied, cause="transfer", contents={"masses_kg": {"R-32": 2.0}})
    with pytest.raises(NotFound):
        verdicts.newest(services, actor, "HM-1")
    clock.forward(hours=1)
    new = pairs.record(services, actor, typed(temp_k=300.0))
    assert new.pair.epoch == 2
    evidence, facts = judge.asked[-1]
    assert [pair.temp_k for pair in evidence] == [300.0]
    assert facts.recorded_contents == {"R-32": 2.0}


def test_a_late_pair_belongs_to_the_epoch_it_settled_in(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    register(services, actor)
    settled = clock.forward(minutes=30)
    emptied = clock.forward(minutes=30)
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, "HM-1", lock=True)
        stored.open_epoch(work, cylinder, at=emptied, cause="emptied", contents=None)
    late = pairs.record(services, actor, typed(settled_at=settled))
    assert late.pair.epoch == 1
    with pytest.raises(NotFound):
        verdicts.newest(services, actor, "HM-1")
    before_registration = typed(settled_at=settled - timedelta(days=1))
    assert pairs.record(services, actor, before_registration).pair.epoch == 1


def test_a_hookup_lends_its_place_devices_and_calibration(services: Services, actor: Actor) -> None:
    register(services, actor)
    new = NewHookup("HM-1", "gauge-1", "clamp-1", temperature_bias_k=0.05, pressure_bias_pa=400.0)
    hookup = hookups.attach(services, actor, new)
    told = pairs.record(
        services,
        actor,
        NewPair(temp_k=297.95, pressure=PressureReading(gauge_pa=937_687.0), hookup_id=hookup.id),
    )
    pair = told.pair
    assert (pair.pressure_device, pair.temperature_device) == ("gauge-1", "clamp-1")
    assert (pair.temp_bias_k, pair.pressure_bias_pa) == (0.05, 400.0)
    assert pair.pressure_pa == pytest.approx(937_687.0 + 101_325.0)
    assert (pair.atmosphere_source, pair.atmosphere_bias_pa) == ("elevation", 1000.0)
    hookups.detach(services, actor, hookup.id)
    late = NewPair(temp_k=297.95, pressure=PRESSURE, hookup_id=hookup.id)
    assert pairs.record(services, actor, late).pair.hookup_id == hookup.id


def test_a_gauge_typed_in_is_read_against_the_cylinders_place(services: Services, actor: Actor) -> None:
    places.create(services, actor, name="high", kind="van", elevation_m=1609.0)
    reading = PressureReading(gauge_pa=900_000.0)
    expected = {"shop": 101_325.0, "high": 83_440.0, None: 99_000.0}
    for number, (place, atmosphere_pa) in enumerate(expected.items()):
        cylinders.register(services, actor, f"C{number}", {"place": place})
        told = pairs.record(services, actor, typed(serial=f"C{number}", pressure=reading))
        assert told.pair.atmosphere_pa == pytest.approx(atmosphere_pa, abs=60)
        assert told.pair.atmosphere_source == ("unknown" if place is None else "elevation")


def test_a_weighing_is_kept_unless_the_scale_lost_the_cylinder(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    register(services, actor)
    clock.forward(minutes=1)
    pairs.record(services, actor, typed(mass_kg=20.4))
    assert judge.asked[-1][1].net_mass_kg == pytest.approx(8.0)
    clock.forward(minutes=1)
    lost = pairs.record(services, actor, typed(mass_kg=0.3))
    assert lost.pair.mass_kg == 0.3
    assert cylinders.read(services, actor, "HM-1").gross_mass_kg == 20.4


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"pressure": PressureReading(gauge_pa=-105_000.0)}, "pressure"),
        ({"serial": None}, "cylinder"),
    ],
)
def test_a_pair_without_sense_changes_nothing(
    services: Services, actor: Actor, values: dict[str, object], field: str
) -> None:
    register(services, actor)
    with pytest.raises(Invalid) as refused:
        pairs.record(services, actor, typed(**values))
    assert refused.value.errors[0].field == field


def test_a_pair_from_the_future_is_refused(services: Services, actor: Actor) -> None:
    register(services, actor)
    soon = services.now() + timedelta(seconds=59)
    # A clock that is a little ahead means now: nothing may be stored that later entries would come before.
    assert pairs.record(services, actor, typed(settled_at=soon)).pair.settled_at == services.now()
    with pytest.raises(Invalid, match="must not be in the future"):
        pairs.record(services, actor, typed(settled_at=services.now() + timedelta(seconds=61)))


def test_evidence_that_the_engine_refuses_is_not_kept(
    services: Services, actor: Actor, judge: ScriptedJudge, monkeypatch: pytest.MonkeyPatch
) -> None:
    register(services, actor)

    def refuse(*_: object, **__: object) -> None:
        raise InvalidEvidence("pairs.0.temp_k", 10.0, "a temperature between 100 and 600 K")

    monkeypatch.setattr(judge, "verdict", refuse)
    with pytest.raises(Invalid, match=r"pairs\.0\.temp_k"):
        pairs.record(services, actor, typed())
    page = pairs.listed(services, actor, "HM-1", PageRequest(), epoch=None, provisional=None)
    assert page.items == []


def test_unknown_cylinders_and_hookups_are_not_found(services: Services, actor: Actor) -> None:
    with pytest.raises(NotFound, match="cylinder HM-1"):
        pairs.record(services, actor, typed())
    with pytest.raises(NotFound, match="hookup 7"):
        pairs.record(services, actor, typed(serial=None, hookup_id=7))


def test_a_verdict_raises_and_clears_its_alarms(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    register(services, actor)
    judge.contamination, judge.contents = "mixed", "liquid-full"
    pairs.record(services, actor, typed())
    pairs.record(services, actor, typed())
    standing = alarms.listed(services, actor, PageRequest(), open_only=True).items
    assert sorted(alarm.code for alarm in standing) == ["liquid-full", "mixed"]
    judge.contamination, judge.contents = "none-detected", "two-phase"
    pairs.record(services, actor, typed())
    assert alarms.listed(services, actor, PageRequest(), open_only=True).items == []
    kinds = [event.type for event in events.follow(services, actor, 0)]
    assert kinds.count(events.ALARM_RAISED) == kinds.count(events.ALARM_CLEARED) == 2


def test_the_owners_history_is_counted_without_this_cylinder(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    """Of what contents turned out to be; verdicts alone teach nothing."""
    for serial in ("A", "B", "HM-1"):
        cylinders.register(services, actor, serial, {})
        pairs.record(services, actor, typed(serial=serial))
    assert judge.asked[-1][1].history == {}
    for serial in ("A", "B", "HM-1"):
        analyses.record(services, actor, NewAnalysis(serial, "laboratory", "R-22"))
    pairs.record(services, actor, typed())
    assert judge.asked[-1][1].history == {"R-22": 2}


def test_statements_do_not_grow_with_the_evidence(services: Services, actor: Actor) -> None:
    register(services, actor)
    counts = []
    for _ in range(4):
        with recorded(services.database.engine) as statements:
            pairs.record(services, actor, typed())
        counts.append(len(statements))
    # Three of them keep the summary by which lists are found.
    assert counts[1] == counts[3] <= 20 + 3
