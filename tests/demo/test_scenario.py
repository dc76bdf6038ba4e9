"""The scenario: a shop, two vans, about fourteen cylinders, and every kind of trouble among them."""

from collections import Counter

import pytest

from demo.scenario import load_scenario
from demo.truth import contents_of, volume_m3
from service.store.artefacts import load_curves

SCENARIO = load_scenario()
BY_SERIAL = {cylinder.serial: cylinder for cylinder in SCENARIO.cylinders}


def test_places_and_troubles():
    assert Counter(place.kind for place in SCENARIO.places.values()) == {"shop": 1, "van": 2, "site": 1}
    assert len(SCENARIO.cylinders) >= 14
    kinds = Counter(cylinder.truth.contamination for cylinder in SCENARIO.cylinders)
    assert set(kinds) == {"none-detected", "air", "mixed", "shifted"}
    assert any(cylinder.claimed_designation is None for cylinder in SCENARIO.cylinders)
    assert any(
        cylinder.claimed_designation not in (None, cylinder.truth.designation)
        for cylinder in SCENARIO.cylinders
    )
    assert any(cylinder.truth.state == "vapour-only" for cylinder in SCENARIO.cylinders)


def test_serials_and_devices_are_used_once():
    devices = [one.device for c in SCENARIO.cylinders for pair in c.instruments for one in pair]
    assert len(set(devices)) == len(devices)
    assert len(BY_SERIAL) == len(SCENARIO.cylinders)
    # RFC 9039 section 4.3 names a device by an organisation; 32473 is kept for documentation by RFC 5612.
    assert all(device.startswith("urn:dev:ops:32473-") for device in devices)


def test_the_overfilled_one_is_overfilled_and_no_other():
    fills = {
        serial: cylinder.truth.net_mass_kg / (contents_of(cylinder).liquid_density * volume_m3(cylinder))
        for serial, cylinder in BY_SERIAL.items()
        if cylinder.truth.state == "two-phase"
    }
    assert {serial for serial, fill in fills.items() if fill > 0.8} == {"S-108"}


@pytest.mark.parametrize("serial", ["S-101", "S-108", "V1-201", "V2-301"])
def test_a_clean_pure_refrigerant_is_on_its_saturation_curve(serial):
    cylinder = BY_SERIAL[serial]
    expected = load_curves().bubble_pressure_pa(cylinder.truth.designation, 298.15)
    assert contents_of(cylinder).pressure_pa(298.15) == pytest.approx(float(expected), rel=5e-4)


def test_air_is_on_top_and_rises_with_temperature():
    cylinder = BY_SERIAL["S-103"]
    excess = [
        contents_of(cylinder).pressure_pa(temp_k) - load_curves().bubble_pressure_pa("R-134a", temp_k)
        for temp_k in (283.15, 298.15)
    ]
    assert excess[1] == pytest.approx(60e3, abs=500)
    assert excess[0] / excess[1] == pytest.approx(283.15 / 298.15, abs=0.02)


def test_what_is_left_of_a_leaked_blend_has_less_of_its_light_part():
    cylinder = BY_SERIAL["S-106"]
    bubble = load_curves().bubble_pressure_pa("R-407C", 298.15)
    assert contents_of(cylinder).pressure_pa(298.15) < 0.96 * bubble


def test_a_nearly_empty_blend_is_between_bubble_and_dew():
    curves = load_curves()
    pressure = contents_of(BY_SERIAL["V1-202"]).pressure_pa(298.15)
    bubble, dew = (curves.bubble_pressure_pa("R-407C", 298.15), curves.dew_pressure_pa("R-407C", 298.15))
    assert 1.01 * dew < pressure < 0.96 * bubble
