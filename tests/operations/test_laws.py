"""The law of a place: a shop in Rotterdam whose cylinders are pi marked, a van in Denver, a shop in Calgary."""

from datetime import UTC, datetime

import pytest

from service.cylinders.judgement.state import Incoming
from service.operations import (
    care,
    checks,
    cylinder_state,
    cylinders,
    organisation,
    overview,
    paper,
    places,
    release,
    transfers,
)
from service.operations.care import Details, Entry
from service.operations.paper import Wish
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from tests.support.clock import Clock

PI_MARKED = {
    "marks": "π PH 48 BAR WC 21.7 L TW 12.7 KG", "requalification_stamp": "NL TB 2019/06", "place": "rotterdam",
    "gross_mass_kg": 12.7, "evacuated": True,
}  # fmt: skip
DOT = {
    "marks": "DOT-4BA400 WC 47.7 LB TW 28 LB 6 A123 24", "place": "rotterdam", "gross_mass_kg": 12.7006,
    "evacuated": True,
}  # fmt: skip


@pytest.fixture
def rotterdam(services: Services, actor: Actor, clock: Clock) -> Actor:
    clock.at = datetime(2026, 5, 4, 12, tzinfo=UTC)
    places.create(services, actor, name="rotterdam", kind="shop", elevation_m=0.0)
    places.set_rule_book(services, actor, "rotterdam", "eu")
    return actor


def refused(
    services: Services, actor: Actor, serial: str, refrigerant: str, mass_kg: float
) -> dict[str, str]:
    answer = checks.check(services, actor, serial, Incoming(refrigerant, mass_kg)).check
    return {breach.rule.code: breach.rule.citation for breach in answer.breaches}


def test_a_pi_marked_cylinder_is_filled_by_p200_for_ten_years(
    services: Services, rotterdam: Actor, clock: Clock
) -> None:
    cylinders.register(services, rotterdam, "NL-1", PI_MARKED)
    assert refused(services, rotterdam, "NL-1", "R-410A", 17.0) == {}
    over = refused(services, rotterdam, "NL-1", "R-410A", 18.0)
    assert set(over) == {"fill-iso-60c"} and "P200" in over["fill-iso-60c"]
    assert "fill-p200" in refused(services, rotterdam, "NL-1", "R-404A", 17.9)
    assert (
        overview.one(services, rotterdam, "NL-1").judgement.requalification.due_on.isoformat() == "2029-06-30"
    )
    clock.at = datetime(2029, 7, 1, 12, tzinfo=UTC)
    late = refused(services, rotterdam, "NL-1", "R-410A", 17.0)
    assert late == {"requalification-overdue": "ADR/RID 4.1.6.10"}


def test_the_shorter_period_of_toxic_gases_follows_what_may_be_in_it_not_the_label(
    services: Services, rotterdam: Actor
) -> None:
    contents = {"evacuated": False, "gross_mass_kg": 15.7, "claimed_designation": "R-22"}
    cylinders.register(services, rotterdam, "NL-1", {**PI_MARKED, **contents})

    def due() -> set[str]:
        row = cylinders.read(services, rotterdam, "NL-1")
        listed = cylinder_state.requalifier(services, rotterdam, [row])(row)
        judged = overview.one(services, rotterdam, "NL-1").judgement.requalification
        return {listed.due_on.isoformat(), judged.due_on.isoformat()}

    assert due() == {"2029-06-30"}
    found: Details = {"laboratory": "Example Laboratory", "designation": "R-717"}
    care.record(services, rotterdam, Entry("NL-1", "purity-result", True, found))
    assert due() == {"2024-06-30"}  # ADR P200 (9): toxic gases every five years


def test_a_cylinder_of_another_law_is_judged_by_its_marks_and_by_what_the_place_allows(
    services: Services, rotterdam: Actor
) -> None:
    cylinders.register(services, rotterdam, "US-1", {**DOT, "requalification_stamp": "2024/06"})
    assert refused(services, rotterdam, "US-1", "R-22", 5.0) == {"marks-of-another-law": "ADR/RID 1.1.4.7.2"}
    both = refused(services, rotterdam, "US-1", "R-744", 5.0)
    assert {"marks-of-another-law", "packaging-not-listed", "rating-unproven"} <= set(both)
    cylinders.register(services, rotterdam, "US-2", {**DOT, "place": "shop"})
    assert refused(services, rotterdam, "US-2", "R-22", 5.0) == {}


def test_what_has_not_been_read_is_refused_by_name(services: Services, actor: Actor) -> None:
    organisation.change(services, actor, rule_book="ca")
    stamped = {"marks": "TC-4BWM28", "water_capacity_kg": 21.6, "tare_kg": 12.7, "gross_mass_kg": 12.7}
    cylinders.register(services, actor, "CA-1", {**DOT, **stamped, "place": "shop"})
    assert refused(services, actor, "CA-1", "R-22", 1.0) == {"law-not-read": "the law of the place"}
    answer = checks.check(services, actor, "CA-1", Incoming("R-22", 1.0)).check
    assert any("CSA B340" in breach.detail for breach in answer.breaches)
    assert not answer.may_be_overridden


def test_only_a_law_that_there_is(services: Services, rotterdam: Actor) -> None:
    with pytest.raises(Invalid, match="rule_book"):
        places.set_rule_book(services, rotterdam, "rotterdam", "fr")
    with pytest.raises(Invalid, match="rule_book"):
        organisation.change(services, rotterdam, rule_book="fr")
    assert places.set_rule_book(services, rotterdam, "rotterdam", None).rule_book is None


def test_paper_and_room_follow_the_law_of_the_place(services: Services, rotterdam: Actor) -> None:
    cylinders.register(services, rotterdam, "NL-1", PI_MARKED)
    transfers.record(
        services, rotterdam, NewTransfer("NL-1", "in", Weighing(mass_kg=10.0), refrigerant="R-410A")
    )
    description = paper.of(services, rotterdam, "NL-1", Wish("https://example.org", units="si")).shipping
    assert description.text is not None and description.text.startswith("UN 3163 LIQUEFIED GAS, N.O.S. (")
    assert description.text.endswith("2.2, (C/E); 1 cylinder, 10.00 kg net")
    answer = release.of_place(services, rotterdam, "rotterdam", 15.0, elevation_m=None)
    exceeded = {breach.rule.code: breach.rule.citation for breach in answer.release.breaches}
    assert exceeded["rcl"] == "EN 378-1 annex E, practical limit"
    assert answer.release.rcl_share == pytest.approx(10.0 / 15.0 / 0.44, rel=1e-3)
    assert answer.release.unread_limits and not answer.trade.breaches
    assert answer.trade.left_kg == pytest.approx(990.0)
