from dataclasses import replace

import pytest

from service.cylinders.markings import read_marks
from service.cylinders.properties import Hazard
from service.cylinders.rating import AirLoad, rating, worst_rating
from service.units import psi_from_pa


def judge(mark, designation, knowledge, *, flammable_marked=True, **more):
    return rating(read_marks(mark), designation, knowledge, flammable_marked=flammable_marked, **more)


@pytest.mark.parametrize(
    ("mark", "designation", "allowed"),
    [
        # Check values of the reference (computed minimum service pressures by 49 CFR 173.301a(d)).
        ("DOT-4BA350", "R-410A", False), ("DOT-4BA350", "R-32", False), ("DOT-4BA350", "R-454B", False),
        ("DOT-4BA350", "R-22", True), ("DOT-4BA350", "R-404A", True), ("DOT-4BA400", "R-22", True),
        ("DOT-4BA400", "R-410A", True), ("DOT-4BA400", "R-32", True), ("DOT-4BA400", "R-454B", True),
        ("DOT-4BW400", "R-410A", True), ("DOT-4BA240", "R-22", True), ("DOT-4B240", "R-22", True),
        ("DOT-4BA240", "R-502", False), ("DOT-4BA240", "R-407C", False), ("DOT-4BA300", "R-407C", True),
        ("DOT-4BA300", "R-407F", False), ("DOT-4BA225", "R-12", True),
    ],
)  # fmt: skip
def test_published_ratings(mark, designation, allowed, knowledge):
    answer = judge(mark, designation, knowledge)
    assert (not answer.breaches) is allowed, answer.breaches
    assert (answer.accepted_by is not None) is allowed


def test_a_refusal_says_what_the_marks_allow(knowledge):
    # 173.301a(d): 5/4 of 350 psig.
    details = [one.detail for one in judge("DOT-4BA350", "R-410A", knowledge).breaches]
    assert any("at 55 °C; allowed are 438 psig" in one for one in details)


def test_r22_in_240_is_accepted_by_its_row_and_says_so(knowledge):
    answer = judge("DOT-4BA240", "R-22", knowledge)
    assert answer.accepted_by.code == "packaging-listed"
    assert psi_from_pa(answer.gauge_55c_pa) == pytest.approx(300.8, abs=0.1)  # 5/4 x 240 = 300
    assert judge("DOT-4BA400", "R-22", knowledge).accepted_by.code == "rating-55c"


def test_the_row_does_not_cover_air(knowledge):
    answer = judge("DOT-4BA240", "R-22", knowledge, air=AirLoad(50e3, 8.0, 21.6))
    assert "rating-55c" in {breach.rule.code for breach in answer.breaches}


def test_air_counts_and_counts_more_where_little_vapour_space_is_left(knowledge):
    plain = judge("DOT-4BA400", "R-410A", knowledge)
    roomy = judge("DOT-4BA400", "R-410A", knowledge, air=AirLoad(60e3, 4.0, 21.6))
    tight = judge("DOT-4BA400", "R-410A", knowledge, air=AirLoad(60e3, 17.5, 21.6))
    assert plain.gauge_55c_pa < roomy.gauge_55c_pa < tight.gauge_55c_pa
    assert tight.breaches and tight.breaches[0].rule.code == "rating-55c"


def test_of_a_cylinder_that_was_not_weighed_the_air_takes_the_space_that_it_has(knowledge):
    plain = judge("DOT-4BA400", "R-410A", knowledge).gauge_55c_pa
    aired = judge("DOT-4BA400", "R-410A", knowledge, air=AirLoad(60e3, None, 21.6)).gauge_55c_pa
    assert aired - plain == pytest.approx(60e3 * 328.15 / 298.15)


def test_air_takes_an_iso_cylinder_out_of_the_listed_filling(shipped):
    # ADR P200 table 2 lists the gas alone; (5)(e): a permanent gas with it adds to the pressure.
    marks = replace(read_marks("ISO PH42BAR"), law="eu", conformity="UN")

    def codes(air_pa):
        air = AirLoad(air_pa, 8.0, 21.6)
        found = rating(marks, "R-410A", shipped, flammable_marked=False, air=air)
        return {breach.rule.code for breach in found.breaches}

    assert codes(0.0) == set()
    assert codes(1.5e6) == {"rating-iso"}


def test_non_refillable_never(knowledge):
    codes = {breach.rule.code for breach in judge("DOT-39 NRC 400/500", "R-22", knowledge).breaches}
    assert "non-refillable" in codes


def test_unknown_marks_are_refused_with_the_reason(knowledge):
    breach = judge("rusty", "R-22", knowledge).breaches[0]
    assert breach.rule.code == "marks-unknown" and "rusty" in breach.detail
    (breach,) = judge("DOT-4BA", "R-22", knowledge).breaches
    assert breach.detail == "4BA without its service pressure: type it as stamped, for example 4BA400"


def test_marks_of_another_law_are_refused_by_the_clause_that_says_so(knowledge):
    marks = replace(read_marks("DOT-4BA400"), law="eu")
    (breach,) = rating(marks, "R-22", knowledge, flammable_marked=False).breaches
    assert (breach.rule.code, breach.rule.citation) == ("marks-of-another-law", "ADR/RID 1.1.4.7.2")


def test_flammables_need_a_cylinder_marked_for_them(knowledge):
    for name in ("R-32", "R-454B", "R-1234yf", "R-290", "R-152a"):
        codes = {
            breach.rule.code
            for breach in judge("DOT-4BA400", name, knowledge, flammable_marked=False).breaches
        }
        assert "flammable-not-marked" in codes, name
    assert not judge("DOT-4BA400", "R-410A", knowledge, flammable_marked=False).breaches
    (propane,) = [
        breach
        for breach in judge("DOT-4BA400", "R-32", knowledge, flammable_marked=False).breaches
        if breach.rule.code == "flammable-not-marked"
    ]
    assert propane.detail == "R-32 is class A2L"
    for hazard in (None, Hazard(None, "2.2", False)):
        nobody_knows = replace(knowledge, hazards=lambda _, found=hazard: found)
        breaches = judge("DOT-4BA400", "R-22", nobody_knows, flammable_marked=False).breaches
        assert [one.detail for one in breaches] == ["R-22 has no known class and is taken for flammable"]


def test_an_unlisted_specification_is_refused_whatever_its_pressure(knowledge):
    # 173.304a(a)(2): ammonia goes into 3A480, 4AA480 and their like; 4B, 4BA and 4BW are not listed.
    codes = {breach.rule.code for breach in judge("DOT-4BA400", "R-717", knowledge).breaches}
    assert codes == {"packaging-not-listed"}


def test_unknown_contents_are_judged_by_the_worst_candidate(knowledge):
    marks = read_marks("DOT-4BA350")
    answer = worst_rating(marks, ["R-22", "R-410A", "R-134a"], knowledge, flammable_marked=False)
    assert answer.designation == "R-410A" and answer.breaches


def test_minimum_service_pressures_of_the_reference(knowledge, reference_rows):
    for name, row in reference_rows.items():
        if not row["bubble_pressure_55C_psig"] or name == "R-717":
            continue
        minimum = float(row["min_service_pressure_psig_(P55/1.25)"])
        gauge = judge("DOT-4BA500", name, knowledge).gauge_55c_pa
        assert psi_from_pa(gauge) / 1.25 == pytest.approx(minimum, abs=0.1)  # both figures are printed to 0.1


def test_iso_cylinder_is_judged_by_its_test_pressure(knowledge):
    assert judge("PH 48 BAR", "R-410A", knowledge).accepted_by.code == "rating-iso"
    assert judge("PH 22 BAR", "R-410A", knowledge).breaches[0].rule.code == "rating-iso"
    assert judge("PW 30 BAR", "R-134a", knowledge).breaches[0].rule.code == "marks-unknown"
