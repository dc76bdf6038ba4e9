"""A full cylinder to the supply house, an evacuated one back: both or neither."""

import pytest

from service.operations import care, cylinders, exchanges, holds, records
from service.operations.care import Entry
from service.operations.exchanges import NewExchange
from service.operations.support.errors import Conflict, Invalid, NotFound
from service.store.paging import PageRequest
from tests.operations.test_transfers import everything
from tests.support.fleet import GOOD, delivered, put_in, take_out

BACK = {
    "serial": "HM-99",
    **{name: GOOD[name] for name in ("marks", "water_capacity_kg", "tare_kg", "place")},
}


def hand_over(services, actor, serial="HM-1", **more):
    values = {"counterparty": "Example Supply", "receipt": "N-1", "gross_kg": 18.4, **more}
    return exchanges.record(services, actor, NewExchange(serial, **values))


@pytest.fixture
def full(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)


def codes(refused):
    return [reason.code for reason in refused.value.reasons]


def test_net_from_the_supply_houses_scale(services, actor, full):
    done = hand_over(services, actor, gross_kg=18.3, received=BACK)
    assert (
        done.net_kg == pytest.approx(5.9) and done.designation == "R-22" and done.received_cylinder == "HM-99"
    )
    assert cylinders.read(services, actor, "HM-1").standing == "handed-over"
    assert cylinders.read(services, actor, "HM-99").net_mass_kg == pytest.approx(0.0)


def test_what_comes_back_may_be_filled_at_once_if_its_stamp_is_known(services, actor, full):
    hand_over(services, actor, received={**BACK, "requalification_stamp": "1-26"})
    assert put_in(services, actor, 2.0, "R-410A", serial="HM-99").transfer.designation == "R-410A"


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({"gross_kg": 10.0}, Invalid),
        ({"received": {**BACK, "serial": "HM-1"}}, Invalid),
        ({"received": {**BACK, "serial": "HM-2"}}, Conflict),
        ({"received": {**BACK, "place": "moon"}}, NotFound),
        ({"serial": "HM-7"}, NotFound),
    ],
)
def test_refused_and_nothing_half_written(services, actor, full, more, error):
    delivered(services, actor, "HM-2")
    before = everything(services, actor)
    with pytest.raises(error):
        hand_over(services, actor, **more)
    assert everything(services, actor) == before


def test_not_on_hold_not_twice(services, actor, full):
    hold = holds.place(services, actor, "HM-1", "air in it")
    with pytest.raises(Conflict) as refused:
        hand_over(services, actor)
    assert codes(refused) == ["on-hold"]
    holds.release(services, actor, hold.id)
    hand_over(services, actor)
    with pytest.raises(Conflict) as refused:
        hand_over(services, actor)
    assert codes(refused) == ["out-of-service", "receipt-exists"]


def test_a_cylinder_that_was_handed_over_may_come_back_evacuated(services, actor, full):
    hand_over(services, actor)
    delivered(services, actor, "HM-2")
    put_in(services, actor, 3.0, serial="HM-2")
    hand_over(services, actor, "HM-2", receipt="N-2", gross_kg=15.4, received={**BACK, "serial": "HM-1"})
    back = cylinders.read(services, actor, "HM-1")
    assert (back.standing, back.claimed_designation) == ("in-service", None)
    assert put_in(services, actor, 2.0, "R-410A").transfer.designation == "R-410A"


def test_a_mixture_goes_for_destruction_and_the_record_says_what_it_was(services, actor, full):
    put_in(services, actor, 2.0, "R-410A", override_reason="collecting for destruction")
    done = hand_over(services, actor, gross_kg=20.4, destination="destruction")
    assert done.designation is None and done.shares == pytest.approx({"R-22": 0.75, "R-410A": 0.25})
    day = services.now().date()
    entry = records.of_period(services, actor, day, day).entries[-1]
    assert entry.kind == "sent-for-destruction" and entry.refrigerant == "mixed: 75.0 % R-22, 25.0 % R-410A"
    assert entry.co2e_ar4_kg == pytest.approx(8.0 * (0.75 * 1810 + 0.25 * 2087.5), rel=1e-3)
    assert entry.money is None


def test_records_keep_to_their_period(services, actor, full, clock):
    day = services.now().date()
    assert [entry.kind for entry in records.of_period(services, actor, day, day).entries] == ["recovered"]
    clock.forward(days=1)
    later = services.now().date()
    assert records.of_period(services, actor, later, later).entries == ()
    with pytest.raises(Invalid):
        records.of_period(services, actor, later, day)


def test_what_is_in_it_is_recovered_before_it_is_scrapped(services, actor, full):
    with pytest.raises(Conflict) as refused:
        care.record(services, actor, Entry("HM-1", "scrapping", None, {"reason": "weld cracked"}))
    assert codes(refused) == ["not-empty"]
    assert cylinders.read(services, actor, "HM-1").standing == "in-service"


def test_scrapped_for_good(services, actor, full):
    take_out(services, actor, 6.0)
    care.record(
        services, actor, Entry("HM-1", "scrapping", None, {"reason": "weld cracked", "condemned": True})
    )
    assert cylinders.read(services, actor, "HM-1").standing == "condemned"
    with pytest.raises(Conflict) as refused:
        put_in(services, actor, 1.0)
    assert "out-of-service" in codes(refused)
    with pytest.raises(Conflict):
        care.record(services, actor, Entry("HM-1", "scrapping", None, {"reason": "again"}))


def test_requalification_takes_the_new_stamp_and_no_older_one(services, actor, full):
    with pytest.raises(Invalid) as refused:
        care.record(services, actor, Entry("HM-1", "requalification", True, {"stamp": "1-20"}))
    assert refused.value.errors[0].field == "stamp"
    care.record(services, actor, Entry("HM-1", "requalification", True, {"stamp": "4 B234 26 S"}))
    assert cylinders.read(services, actor, "HM-1").requalification_stamp == "4 B234 26 S"


def test_exchanges_are_listed_newest_first(services, actor, full):
    hand_over(services, actor)
    page = exchanges.listed(services, actor, PageRequest(), serial="HM-1")
    assert [one.receipt for one in page.items] == ["N-1"]
