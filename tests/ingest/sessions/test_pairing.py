"""When a settled state becomes a pair, and what of it is sent."""

from dataclasses import dataclass, replace

import pytest

from ingest.sessions.pairing import (
    CONTENTS_CHANGED_KG,
    NEW_PAIR_AFTER_K,
    EquilibriumPair,
    Pairing,
    encoded,
    key,
    pair_of,
)

PAIR = EquilibriumPair(
    hookup=7, settled_at_s=1_780_000_000.0, from_s=1_779_999_000.0, to_s=1_780_000_000.0, temp_k=296.15,
    pressure_pa=809_000.0, temp_uncertainty_k=0.1, pressure_uncertainty_pa=900.0,
)  # fmt: skip


@dataclass
class Estimated:
    temp_k: float = 296.15
    stamp_s: float = 1_780_000_000.0
    pressure_pa: float = 910_325.0
    uncertainty_k: float = 0.1
    pressure_uncertainty_pa: float = 900.0


@dataclass
class Scripted:
    """Stands in for the settling of one session."""

    settled: bool = True
    pressure_stepped: bool = False
    answer: Estimated | None = None

    def estimate(self):
        return self.answer


def settle(pairing, temp_k=296.15, mass_kg=None, *, stepped=False):
    """One settled state after an unsettled one; whether it gave a pair."""
    pairing.consider(Scripted(settled=False, pressure_stepped=stepped), mass_kg)
    return pairing.consider(Scripted(answer=Estimated(temp_k)), mass_kg) is not None


def test_one_settled_state_gives_one_pair():
    pairing, settling = Pairing(), Scripted(answer=Estimated())
    assert pairing.consider(settling, None) is settling.answer
    assert pairing.consider(settling, None) is None
    settling.settled = False
    assert pairing.consider(settling, None) is None


def test_a_pairing_begins_with_nothing_settled_and_nothing_touched():
    assert Pairing() == Pairing(
        was_settled=False, last_temp_k=None, last_mass_kg=None, contents_touched=False
    )
    # Choices of this project, without a source.
    assert (NEW_PAIR_AFTER_K, CONTENTS_CHANGED_KG) == (3.0, 0.05)


def test_while_a_state_stays_settled_nothing_else_becomes_a_pair():
    pairing = Pairing()
    assert pairing.consider(Scripted(answer=Estimated(296.0)), 20.0) is not None
    warmer = Scripted(answer=Estimated(296.0 + 2.0 * NEW_PAIR_AFTER_K))
    assert pairing.consider(warmer, 20.0) is None
    assert pairing.consider(Scripted(answer=Estimated(296.0)), 20.0 + 2.0 * CONTENTS_CHANGED_KG) is None


def test_nothing_is_a_pair_without_an_estimate_or_before_it_settled():
    pairing = Pairing()
    assert pairing.consider(Scripted(answer=None), None) is None
    for _ in range(2):  # the first follows a settled state, the second an unsettled one
        assert pairing.consider(Scripted(settled=False, answer=Estimated()), None) is None
    assert pairing.last_temp_k is None and settle(pairing)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_same_state_gives_another_pair_only_where_it_has_moved(sign):
    pairing = Pairing()
    assert settle(pairing, 296.0)
    assert not settle(pairing, 296.0 + sign * (NEW_PAIR_AFTER_K - 0.01))
    assert settle(pairing, 296.0 + sign * NEW_PAIR_AFTER_K)
    assert not settle(pairing, 296.0 + sign * NEW_PAIR_AFTER_K)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_change_on_the_scale_makes_the_last_pair_old(sign):
    pairing = Pairing()
    assert settle(pairing, mass_kg=20.0)
    assert not settle(pairing, mass_kg=20.0 + sign * (CONTENTS_CHANGED_KG - 0.001))
    assert settle(pairing, mass_kg=20.0 + sign * (CONTENTS_CHANGED_KG + 0.001))
    assert not settle(pairing, mass_kg=None), "a scale that is gone says nothing"
    unweighed = Pairing()
    assert settle(unweighed) and not settle(unweighed, mass_kg=20.0)


def test_a_step_of_the_pressure_makes_the_last_pair_old_once():
    pairing = Pairing()
    assert settle(pairing)
    assert settle(pairing, stepped=True)
    assert not settle(pairing)


def test_a_step_is_remembered_until_a_pair_came_of_it():
    pairing, settling = Pairing(), Scripted(answer=Estimated())
    assert settle(pairing)
    pairing.consider(Scripted(settled=False, pressure_stepped=True), None)
    assert pairing.consider(Scripted(answer=None), None) is None
    pairing.consider(Scripted(settled=False), None)
    settling.pressure_stepped = True
    assert pairing.consider(settling, None) is not None and not settling.pressure_stepped
    assert not pairing.contents_touched


def test_the_body_is_that_of_the_interface():
    assert PAIR.as_json() == {
        "hookup": 7, "temperature_c": 23.0, "gauge_pressure_kpa": 809.0, "temperature_uncertainty_k": 0.1,
        "pressure_uncertainty_kpa": 0.9, "settled_at": "2026-05-28T20:26:40.000Z",
        "from": "2026-05-28T20:10:00.000Z", "to": "2026-05-28T20:26:40.000Z", "provisional": False, "reasons": [],
    }  # fmt: skip
    full = replace(PAIR, barometer_pa=98_000.0, mass_kg=18.7, ambient_k=295.15, temp_bias_k=0.2,
                   pressure_bias_pa=1500.0, reasons=("offset",)).as_json()  # fmt: skip
    assert full["ambient_pressure_kpa"] == 98.0 and full["mass_kg"] == 18.7 and full["reasons"] == ["offset"]
    assert full["ambient_temperature_c"] == 22.0
    assert (full["temperature_bias_uncertainty_k"], full["pressure_bias_uncertainty_kpa"]) == (0.2, 1.5)


def test_no_digit_is_sent_that_means_nothing():
    odd = replace(
        PAIR, temp_k=296.1234567, pressure_pa=809_123.45678, temp_uncertainty_k=0.123456,
        pressure_uncertainty_pa=923.45678, barometer_pa=98_765.43219, mass_kg=18.765432, ambient_k=295.123456,
    ).as_json()  # fmt: skip
    assert odd["temperature_c"] == 22.9735 and odd["gauge_pressure_kpa"] == 809.1235
    assert odd["temperature_uncertainty_k"] == 0.1235 and odd["pressure_uncertainty_kpa"] == 0.9235
    assert odd["ambient_pressure_kpa"] == 98.7654 and odd["mass_kg"] == 18.7654
    assert odd["ambient_temperature_c"] == 21.973


def test_an_absolute_pressure_is_sent_as_one_without_a_barometer():
    body = replace(PAIR, is_gauge=False, barometer_pa=98_000.0).as_json()
    assert body["absolute_pressure_kpa"] == 809.0
    assert "gauge_pressure_kpa" not in body and "ambient_pressure_kpa" not in body


@pytest.mark.parametrize(("left_pa", "sent_kpa"), [(0.0, 0.001), (0.9, 0.001), (1.5, 0.0015)])
def test_no_uncertainty_is_sent_as_less_than_a_gauge_can_mean(left_pa, sent_kpa):
    assert replace(PAIR, pressure_uncertainty_pa=left_pa).as_json()["pressure_uncertainty_kpa"] == sent_kpa


def test_the_same_body_has_the_same_key_and_another_one_another():
    body = PAIR.as_json()
    text = encoded(body)
    assert text == encoded(dict(reversed(body.items()))) and " " not in text
    assert key(text) == key(encoded(PAIR.as_json())) and len(key(text)) == 40
    assert key(text) != key(encoded(replace(PAIR, temp_k=296.2).as_json()))


@dataclass
class Hooked:
    id: int = 7
    atmosphere_pa: float = 101_325.0
    temperature_bias_k: float | None = 0.2
    pressure_bias_pa: float | None = 1500.0


def test_a_gauge_hookup_gets_its_pressure_back_against_its_own_air():
    pair = pair_of(Hooked(), Estimated(), 1_779_999_000.0)
    assert pair.is_gauge and pair.pressure_pa == pytest.approx(809_000.0)
    assert (pair.from_s, pair.to_s, pair.settled_at_s) == (1_779_999_000.0, 1_780_000_000.0, 1_780_000_000.0)
    assert (pair.temp_bias_k, pair.pressure_bias_pa, pair.hookup) == (0.2, 1500.0, 7)
    high = pair_of(Hooked(), Estimated(), 0.0, atmosphere_pa=84_000.0, mass_kg=18.7)
    assert high.pressure_pa == pytest.approx(826_325.0) and high.mass_kg == 18.7
    absolute = pair_of(Hooked(), Estimated(), 0.0, is_gauge=False)
    assert absolute.pressure_pa == 910_325.0 and not absolute.is_gauge


def test_a_mass_that_changed_by_just_so_much_is_a_change():
    pairing = Pairing()
    assert settle(pairing, mass_kg=0.0)
    assert settle(pairing, mass_kg=CONTENTS_CHANGED_KG)
    assert not settle(pairing, mass_kg=2 * CONTENTS_CHANGED_KG - 0.001)
