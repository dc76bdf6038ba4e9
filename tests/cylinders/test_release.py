import pytest

from service.cylinders.release import Load, limit_ppm, release

# Molar masses from memory [kg/mol]; RCL of the International Mechanical Code table 1103.1 (read).
R134A = ("R-134a", 0.10203, 50_000.0, False)
R32 = ("R-32", 0.052024, 36_000.0, True)
LB_PER_1000_FT3 = 0.45359237 / 28.316846592


def load(gas, mass_kg, serial="HM-1"):
    name, molar_mass, rcl, flammable = gas
    return Load(serial, name, mass_kg, molar_mass, rcl, flammable)


@pytest.mark.parametrize(("gas", "published"), [(R134A, 13.0), (R32, 4.8)])
def test_the_published_mass_per_volume_reaches_the_published_ppm(gas, published):
    # IMC 1103.1 prints both: R-134a 13 lb/1000 ft3 and 50 000 ppm; R-32 4.8 and 36 000 (read). Printed to two
    # digits.
    answer = release([load(gas, published * LB_PER_1000_FT3 * 10.0)], 10.0)
    assert answer.concentration_ppm == pytest.approx(gas[2], rel=0.04)
    assert answer.rcl_share == pytest.approx(1.0, rel=0.04)


def test_a_full_cylinder_in_a_van_is_far_over_the_limit():
    answer = release([load(R134A, 16.0)], 8.0)
    assert {breach.rule.code for breach in answer.breaches} == {"rcl", "oxygen"}
    assert 0.10 < answer.oxygen_share < 0.12
    assert any("get out" in caution for caution in answer.cautions)


def test_all_on_one_vehicle_count_together():
    one = release([load(R134A, 1.2)], 10.0)
    both = release([load(R134A, 1.2), load(R32, 1.0, "HM-2")], 10.0)
    assert not one.breaches
    assert both.concentration_ppm > one.concentration_ppm and both.breaches
    assert any("burn" in caution for caution in both.cautions)
    assert not any("burn" in caution for caution in one.cautions)


def test_the_oxygen_limit_falls_with_height():
    charge = [Load("HM-1", "R-410A", 5.0, 0.07259, 140_000.0, False)]
    assert not release(charge, 14.0, elevation_m=900.0).breaches
    assert [b.rule.code for b in release(charge, 14.0, elevation_m=1200.0).breaches] == ["oxygen"]


def test_without_a_published_limit_it_says_so():
    answer = release([Load("HM-1", "R-454B", 0.2, 0.0626, None, True)], 10.0)
    assert answer.rcl_share is None and answer.unknown_limits == ("R-454B",)


@pytest.mark.parametrize("volume", [0.0, -1.0, float("nan")])
def test_a_volume_is_above_zero(volume):
    with pytest.raises(ValueError, match="volume_m3"):
        release([load(R134A, 1.0)], volume)


@pytest.mark.parametrize(
    ("mass_kg", "said"),
    [
        (4.15, None), (4.165, "It would fill the whole van: nobody can breathe there."),
        (4.19, "It would fill the van more than once over: nobody can breathe there."),
        (10.0, "It would fill the van more than twice over: nobody can breathe there."),
        (16.0, "It would fill the van more than 3 times over: nobody can breathe there."),
    ],
)  # fmt: skip
def test_where_more_comes_out_than_the_space_holds_it_says_so_and_no_figure(mass_kg, said):
    # Molar volume at 25 °C and one atmosphere: 24.465 L (computed); 4.170 kg of R-134a fill 1 m3.
    answer = release([load(R134A, mass_kg)], 1.0, space="van")
    assert answer.statement == said
    assert (answer.concentration_ppm is None) is (answer.oxygen_share is None) is (said is not None)
    text = " ".join(breach.detail for breach in answer.breaches)
    assert "1000000 ppm" not in text
    if answer.oxygen_share is not None:
        assert f"{100.0 * answer.oxygen_share:.1f}" != "0.0"


def test_toxic_says_toxic():
    ammonia = Load("HM-1", "R-717", 1.0, 0.01703, 320.0, flammable=True, toxic=True)
    said = " ".join(release([ammonia], 10.0).cautions)
    assert "toxic" in said and "can burn" in said
    assert "toxic" not in " ".join(release([load(R134A, 1.0)], 10.0).cautions)


def test_a_limit_that_was_not_read_is_shown_so():
    inferred = Load("HM-1", "R-454B", 1.0, 0.0626, 19_000.0, True, rcl_mark="inferred")
    answer = release([inferred, load(R134A, 1.0)], 5.0)
    assert answer.unread_limits == (("R-454B", "inferred"),)
    assert "the limit of R-454B is inferred" in answer.breaches[0].detail


def test_a_practical_limit_as_concentration():
    # EN 378-1 annex E, from memory: R-134a 0.25 kg/m3; 102.03 g/mol, 24.465 L/mol at 25 °C.
    assert limit_ppm(0.25, 0.10203) == pytest.approx(59_950, rel=1e-3)
