import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.markings import read_marks
from service.units import pa_from_psi, psi_from_pa

# 49 CFR 178.50, 178.51, 178.61, 178.65 (2015 edition, read): service pressure is the number in the mark,
# hydrostatic
# test at twice that for the 4B family and 4B240ET; 173.301a(b): spec 3 is 1800 where none is marked.
AS_TYPED = [
    ("DOT-4BA400", "4BA", 400, 800, True),
    ("dot 4bw350", "4BW", 350, 700, True),
    ("DOT 4BW 350", "4BW", 350, 700, True),
    ("4BA-400", "4BA", 400, 800, True),
    ("4B240ET", "4B240ET", 240, 480, True),
    ("DOT-39 NRC 250/500 M1001", "39", 250, 500, False),
    ("DOT39", "39", None, None, False),
    ("ICC-4B300", "4B", 300, 600, True),
    ("DOT-3AA1800", "3AA", 1800, 3000, True),
    ("DOT-3", "3", 1800, None, True),
    ("DOT-4BA400 WC 47.7 LB TW 27.4 06 A123 23", "4BA", 400, 800, True),
    ("DOT-110A500-W", "110A", 500, None, True),
]


@pytest.mark.parametrize(("typed", "specification", "service", "test", "refillable"), AS_TYPED)
def test_marks_as_people_type_them(typed, specification, service, test, refillable):
    marks = read_marks(typed)
    assert marks.understood, marks.reason
    assert marks.text == typed
    assert (marks.specification, marks.refillable) == (specification, refillable)
    assert marks.service_pressure_pa == (None if service is None else pytest.approx(pa_from_psi(service)))
    assert marks.test_pressure_pa == (None if test is None else pytest.approx(pa_from_psi(test)))


def test_canadian_metric_mark_is_in_bar():
    # From memory: TC marks with M carry the service pressure in bar.
    marks = read_marks("TC-4BWM28")
    assert marks.specification == "4BW"
    assert psi_from_pa(marks.service_pressure_pa) == pytest.approx(406.1, abs=0.1)


@pytest.mark.parametrize(
    ("typed", "test_bar", "working_bar"),
    [
        ("PH 48 BAR", 48, None),
        ("PH48BAR PW 30", 48, 30),
        ("π0035 PH 4,2 MPa", 42, None),
        ("ISO 4706 PW200BAR PH300BAR", 300, 200),
    ],
)
def test_iso_marks(typed, test_bar, working_bar):
    # ISO 13769 (from memory): PH test pressure, PW working pressure.
    marks = read_marks(typed)
    assert marks.standard == "ISO" and marks.refillable
    assert marks.test_pressure_pa == pytest.approx(test_bar * 1e5)
    assert marks.service_pressure_pa == (None if working_bar is None else pytest.approx(working_bar * 1e5))


@pytest.mark.parametrize(
    "typed",
    [
        # 49 CFR 178.65(i)(2) (2015 edition, read): DOT-39 and NRC. The words are common practice, no source.
        "DOT-39 NRC 250/500", "DOT39", "TC-39M", "4BA400 DOT-39", "DOT-4BA400 DOT-39 NRC 260/325",
        "DOT-4BA400 NON-REFILLABLE", "4BA400 non refillable", "PH 48 BAR NON-REFILLABLE", "ISO 11118 PH 40",
        "Non-Refillable", "DO NOT REFILL", "4BA4000 NRC",
    ],
)  # fmt: skip
def test_a_mark_of_a_non_refillable_cylinder_counts_wherever_it_stands(typed):
    assert read_marks(typed).refillable is False


@pytest.mark.parametrize("typed", ["DOT-4BA400", "DOT-3AL390", "4BW390 REFILLABLE", "PH 39 BAR"])
def test_what_only_looks_like_one_is_refillable(typed):
    assert read_marks(typed).refillable is True


@pytest.mark.parametrize("typed", ["", "rusty", "4BA", "DOT-4BA4000", "DOT-4BA40", "47.7", "TW 27.4", None])
def test_unknown_marks_are_kept_and_say_why(typed):
    marks = read_marks(typed)
    assert not marks.understood
    assert marks.text == (typed or "")
    assert marks.reason
    assert marks.refillable is None


@given(st.text(max_size=60))
def test_no_text_is_too_strange(typed):
    marks = read_marks(typed)
    assert marks.understood or marks.reason
