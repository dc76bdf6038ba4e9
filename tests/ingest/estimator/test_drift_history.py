"""The drift's history: whether it dies away, and whether the clamp's offset drifts with it."""

from ingest.estimator.drift_history import CREEP_DECAY_S, EVERY_S, DriftHistory
from ingest.estimator.probe_offset import DOUBTED, NO_SHIFT, Offset, OffsetSettings, Shift

SETTINGS = OffsetSettings()
SURE = 0.015**2


def creep(rate_k_h: float, *, after_s: float = EVERY_S, travel_k: float = 0.0) -> Shift:
    history = DriftHistory()
    history.note(Offset(1.0, SURE, 294.0, 0.0, 0.0))
    later = Offset(1.0 + rate_k_h * after_s / 3600.0, SURE, 294.0 + travel_k, 0.0, after_s)
    return history.creep(later, SETTINGS, 0.25)


def test_an_offset_that_stays_is_not_doubted() -> None:
    assert creep(0.0).risk < DOUBTED


def test_an_offset_that_creeps_has_more_before_it_than_the_budget() -> None:
    crept = creep(0.4)
    assert crept.risk > 0.5
    assert abs(crept.rms_k - 0.4 * CREEP_DECAY_S / 3600.0) < 0.15
    assert creep(-0.4).risk == crept.risk


def test_the_law_of_the_pressure_thermometer_may_be_off_over_a_travel() -> None:
    assert creep(0.4, travel_k=2.0).risk < creep(0.4).risk


def test_nothing_is_told_of_an_offset_before_a_quarter_of_an_hour() -> None:
    assert creep(4.0, after_s=EVERY_S - 1.0) == NO_SHIFT


def test_a_drift_that_dies_away_has_a_rate_and_one_that_turned_has_none() -> None:
    history = DriftHistory()
    history.note(Offset(1.0, SURE, 294.0, 2e-4, 0.0))
    assert history.decay_rate(EVERY_S / 2.0, 1e-4) is None
    rate = history.decay_rate(EVERY_S, 1e-4)
    assert rate is not None and abs(rate * EVERY_S - 0.6931) < 1e-3
    assert history.decay_rate(EVERY_S, -1e-4) is None
