"""What the worker says of hookups and devices: the side that produces `PUT /live`."""

from datetime import UTC, datetime

import pytest

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.live import UNITS, batch
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.support.fake_service import hookup
from tests.support.live_batches import SENT, following, heard, pack

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
SAID = (
    "hookup settling_state reasons at temperature_c gauge_pressure_kpa absolute_pressure_kpa mass_kg"
    " ambient_temperature_c battery_percent drift_k_per_h good_to_k provisional_pair probe_lag_s time_left"
)


@pytest.mark.parametrize(
    ("quantity", "unit", "sent", "said"),
    [
        ("wall-temperature", "Cel", 24.0, 297.15),
        ("wall-temperature", "K", 297.15, 297.15),
        ("ambient-temperature", "Cel", -10.0, 263.15),
        ("gauge-pressure", "Pa", 943_000.0, 943_000.0),
        ("absolute-pressure", "Pa", 1_044_000.0, 1_044_000.0),
        ("ambient-pressure", "Pa", 83_400.0, 83_400.0),
        ("mass", "kg", -0.02, -0.02),
        ("battery", "%EL", 80.0, 80.0),
    ],
)
def test_values_go_out_in_si_with_their_unit(quantity: str, unit: str, sent: float, said: float) -> None:
    body = heard("probe-1", at=NOON, values={quantity: (unit, sent)})
    assert body == {
        "place": "shop",
        "hookups": [],
        "devices": [
            {
                "device": "probe-1",
                "place": "shop",
                "last_seen": "2026-05-04T12:00:00.000Z",
                "readings": {
                    quantity: {
                        "value": pytest.approx(said),
                        "unit": UNITS[quantity],
                        "at": "2026-05-04T12:00:00.000Z",
                    }
                },
            }
        ],
    }


def test_a_settled_hookup_says_its_state_values_and_pair() -> None:
    (said,) = following(hookup(7, "probe-1"), NOON)["hookups"]
    assert list(said) == SAID.split()
    assert (said["hookup"], said["settling_state"], said["at"]) == (7, "settled", "2026-05-04T12:00:00.000Z")
    assert said["temperature_c"] == pytest.approx(21.1, abs=0.3)
    assert said["gauge_pressure_kpa"] == pytest.approx(490.0, abs=15.0)
    assert said["time_left"] is None
    assert said["provisional_pair"]["absolute_pressure_kpa"] == pytest.approx(
        said["gauge_pressure_kpa"] + 101.325, abs=3.0
    )


def test_a_hookup_that_is_settling_says_how_long_it_will_take_from_its_newest_reading_on() -> None:
    (said,) = following(hookup(7, "probe-1"), NOON, seconds=200.0)["hookups"]
    assert (said["settling_state"], list(said["time_left"])) == (
        "settling",
        ["expected_s", "least_s", "most_s"],
    )
    assert 60.0 < said["time_left"]["least_s"] < said["time_left"]["expected_s"] < said["time_left"]["most_s"]
    gauge_alone = _lacking("gauge-pressure", period_s=10.0, packs=20)
    assert gauge_alone["time_left"] is None


@pytest.mark.parametrize(
    ("heard_kind", "reasons"),
    [("gauge-pressure", ["no-temperature"]), ("wall-temperature", ["no-pressure"]), ("both", [])],
)
def test_a_hookup_says_which_of_its_two_sensors_is_not_heard(heard_kind: str, reasons: list[str]) -> None:
    said = _lacking(heard_kind, period_s=10.0, packs=4)
    assert [one for one in said["reasons"] if one.startswith("no-p") or one.startswith("no-t")] == reasons


def test_one_reading_of_one_sensor_is_no_complaint_about_the_other() -> None:
    assert "no-temperature" not in _lacking("gauge-pressure", period_s=10.0, packs=1)["reasons"]


def test_readings_more_than_a_minute_apart_are_named() -> None:
    assert "slow-readings" in _lacking("both", period_s=120.0, packs=30)["reasons"]
    assert "slow-readings" not in _lacking("both", period_s=30.0, packs=30)["reasons"]


def _lacking(kind: str, period_s: float, packs: int) -> dict:
    """What is said of a hookup of which one sensor, or both, are heard."""
    pipeline, start_s = Pipeline(SettlingSettings()), NOON.timestamp()
    pipeline.attach([Hookup.from_json({**hookup(7, "probe-1"), "from": None})])
    values = {name: SENT[name] for name in SENT if kind in ("both", name)}
    at_s = start_s
    for number in range(packs):
        at_s = start_s + number * period_s
        pipeline.take("shop", "probe-1", pack("probe-1", at_s, values), at_s)
    (said,) = batch("shop", pipeline, [7], [], at_s)["hookups"]
    return said


def test_a_hookup_that_was_never_heard_tells_nothing_that_could_win_over_a_backlog() -> None:
    """Stamped now, an empty snapshot would be newer than every reading that a gateway hands on late."""
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup.from_json({**hookup(7, "probe-1"), "from": None})])
    assert batch("shop", pipeline, [7], [], NOON.timestamp())["hookups"] == []
    late_s = NOON.timestamp() - 7200.0
    pipeline.take("shop", "probe-1", pack("probe-1", late_s), NOON.timestamp())
    (said,) = batch("shop", pipeline, [7], [], NOON.timestamp())["hookups"]
    assert said["at"] == "2026-05-04T10:00:00.000Z"
