import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.markings import read_marks
from service.cylinders.plausibility import (
    LARGEST_4B_KG,
    most_that_fits_kg,
    net_mass_doubt,
    serial_key,
    stamp_doubts,
    unusable_characters,
)
from service.cylinders.water_capacity import water_volume_m3
from service.units import kg_from_lb


@pytest.mark.parametrize(
    ("mark", "water_lb", "tare_lb", "doubted"),
    [
        # Common practice, no source: what stands on the usual recovery cylinders.
        ("DOT-4BA400", 47.7, 27.4, ()), ("DOT-4BW400", 123.0, 59.0, ()), ("DOT-4BA400", 26.2, 17.5, ()),
        ("DOT-3AA1800", 96.0, 133.0, ()), ("DOT-3AL1800", 64.0, 31.0, ()),
        # Just inside and just outside.
        ("DOT-4BA400", 30.0, 30.0, ()), ("DOT-4BA400", 29.9, 30.0, ("tare_kg",)),
        ("DOT-4BA400", 90.0, 30.0, ()), ("DOT-4BA400", 90.1, 30.0, ("tare_kg",)),
        ("DOT-4BA400", 999.9, 400.0, ()), ("DOT-4BA400", 1000.0, 400.0, ("water_capacity_kg",)),
        # Kilograms typed as pounds, and the other way round.
        ("DOT-4BA400", 47.7, kg_from_lb(27.4), ("tare_kg",)), ("DOT-4BA400", kg_from_lb(47.7), 27.4, ("tare_kg",)),
    ],
)  # fmt: skip
def test_stamped_figures_that_need_to_be_confirmed(mark, water_lb, tare_lb, doubted):
    doubts = stamp_doubts(read_marks(mark), kg_from_lb(water_lb), kg_from_lb(tare_lb))
    assert tuple(doubt.field for doubt in doubts) == doubted
    assert all(doubt.why for doubt in doubts)


def test_what_is_not_known_is_not_doubted():
    assert stamp_doubts(read_marks("DOT-4BA400"), None, 12.4) == ()
    assert stamp_doubts(read_marks(""), 21.6, None) == ()
    assert kg_from_lb(1000.0) == pytest.approx(LARGEST_4B_KG)


def test_a_net_mass_that_nothing_believable_reaches(knowledge):
    curves = knowledge.saturation
    most = most_that_fits_kg(["R-22", "R-410A"], 21.6, curves)
    cold = curves.temp_range_k("R-22")[0]
    assert most == pytest.approx(curves.liquid_density_kg_m3("R-22", cold) * water_volume_m3(21.6))
    assert net_mass_doubt(most * 0.999, ["R-22", "R-410A"], 21.6, curves) is None
    assert net_mass_doubt(most * 1.001, ["R-22", "R-410A"], 21.6, curves).field == "net_mass_kg"
    assert net_mass_doubt(400.0, ["R-12"], 21.6, curves) is not None
    assert net_mass_doubt(400.0, [], 21.6, curves) is None


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("HM-1", "hm-1", True), (" HM-1 ", "HM-1", True), ("HM  1", "HM 1", True), ("ＨＭ-1", "HM-1", True),
        ("HM-1", "HM-l", False), ("HM-1", "HM1", False), ("HM 1", "HM1", False),
    ],
)  # fmt: skip
def test_serials_are_compared_without_case_and_surrounding_spaces(one, other, same):
    assert (serial_key(one) == serial_key(other)) is same


@given(st.text())
def test_a_key_is_its_own_key(serial):
    assert serial_key(serial_key(serial)) == serial_key(serial)


@pytest.mark.parametrize(
    ("serial", "found"),
    [
        ("HM-1", ""), ("A 4711 / 22", "/"), ("a\\b/c", "\\/"), ("..", ".."), (".", "."), ("", ""), ("a\nb", "\n"),
        ("50%", ""), ("#7?", ""), ("Nº 5", ""), ("..a", ""),
    ],
)  # fmt: skip
def test_what_an_address_cannot_carry(serial, found):
    assert unusable_characters(serial) == found
