import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.contents import Contents

EVACUATED = Contents(mass_kg=0.0, evacuated=True, basis="record")


def test_a_mixture_is_computed_by_mass():
    mixed = EVACUATED.put_in("R-22", 6.0).put_in("R-410A", 2.0)
    assert mixed.shares == pytest.approx({"R-22": 0.75, "R-410A": 0.25})
    assert mixed.mass_kg == 8.0 and mixed.is_mixed and mixed.designation is None


def test_half_a_percent_of_another_refrigerant_is_what_the_standard_allows():
    # 40 CFR 82 subpart F App. A1 (2015 edition, read): other impurities including other refrigerants 0.50 %
    # by weight.
    assert EVACUATED.put_in("R-22", 9.96).put_in("R-410A", 0.04).designation == "R-22"
    assert EVACUATED.put_in("R-22", 9.94).put_in("R-410A", 0.06).is_mixed


def test_an_unknown_on_top_makes_it_unknown():
    contents = EVACUATED.put_in("R-22", 5.0).put_in(None, 1.0)
    assert contents.is_unknown and contents.designation is None


def test_nothing_recorded_is_unknown_not_empty():
    assert Contents().is_unknown and not Contents().is_empty


def test_emptied_remembers_what_was_in_until_evacuated_and_refilled():
    emptied = EVACUATED.put_in("R-22", 5.0).take_out(5.0)
    assert emptied.is_empty and emptied.last_designation == "R-22" and not emptied.evacuated
    assert emptied.evacuate().put_in("R-410A", 1.0).designation == "R-410A"


def test_drawing_vapour_is_remembered_as_a_share():
    contents = EVACUATED.put_in("R-407C", 10.0).take_out(2.0, as_vapour=True).take_out(4.0, as_vapour=True)
    assert contents.vapour_lost_fraction == pytest.approx(0.6)
    assert EVACUATED.put_in("R-407C", 10.0).take_out(2.0).vapour_lost_fraction == 0.0


@given(
    st.lists(
        st.tuples(st.sampled_from(["R-22", "R-410A", "R-32", None]), st.floats(0.01, 20.0)),
        min_size=1,
        max_size=6,
    )
)
def test_shares_sum_to_one_and_mass_is_conserved(parts):
    contents = EVACUATED
    for name, mass in parts:
        contents = contents.put_in(name, mass)
    assert sum(contents.shares.values()) == pytest.approx(1.0)
    assert contents.mass_kg == pytest.approx(sum(mass for _, mass in parts))


def test_up_to_half_a_percent_of_another_counts_as_one_refrigerant():
    # 40 CFR 82 subpart F App. A1 (2015 edition, read): 0.5 % of other refrigerants by mass; that it decides here is
    # inferred.
    inside, outside = (
        Contents({"R-22": 0.995, "R-12": 0.005}, 8.0),
        Contents({"R-22": 0.9949, "R-12": 0.0051}, 8.0),
    )
    assert inside.designation == "R-22" and not inside.is_mixed
    assert outside.designation is None and outside.is_mixed
