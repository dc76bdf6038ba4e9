"""Settling on single courses of the simulator: states, reasons, and what a pair is worth."""

from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo.physics import ClampSpec, Cylinder, CylinderSpec, GaugeSpec, Rig, Surroundings, VapourOnly
from ingest.estimator.filter_bank import FilterBank
from ingest.estimator.saturation_thermometer import pressure_at, pressure_temperature, temperature_per_pascal
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.session import Session
from ingest.sessions.snapshot import restore, serialize
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Reading
from tests.support.curves import DESIGNATIONS, saturated

START, ATMOSPHERE = 1.7e9, 101325.0
ROOM = 294.0


def rig(start_k: float = ROOM + 0.2, clamp_k: float = 303.0, seed: int = 1, vapour: bool = False) -> Rig:
    contents = VapourOnly(3e5) if vapour else saturated("R-134a")
    made = Rig(
        Cylinder(CylinderSpec(), contents, 0.3 if vapour else 10.0, start_k),
        ClampSpec(lag_s=50.0, noise_k=0.05),
        GaugeSpec(noise_pa=500.0),
        ROOM,
        Random(seed),
    )
    made.clamp.move(clamp_k)
    return made


def play(
    made: Rig,
    duration_s: float,
    act: Callable[[float, Rig], float | None] = lambda _t, _rig: None,
    around: Callable[[float], Surroundings] = lambda _t: Surroundings(ROOM),
    session: Session | None = None,
    start_s: float = 0.0,
) -> tuple[Session, list[tuple[float, str, tuple[str, ...], bool]]]:
    """Play a course into a session; returns it and its state after every reading."""
    session = session or Session.of(Hookup(1, "C", "shop", "d", "d"), SettlingSettings())
    told = []
    t = start_s
    while t < start_s + duration_s:
        finger = act(t, made)
        made.step(5.0, around(t), finger)
        t += 5.0
        session.take_clamp(START + t, made.clamp_reading(), START + t + 0.1)
        session.take_gauge(START + t, made.gauge_reading() + ATMOSPHERE, START + t + 0.1)
        while session.advance():
            pass
        settling = session.settling
        told.append((t, settling.state(), session.reasons(), settling.settled))
    return session, told


def test_a_fresh_clamp_waits_settles_and_is_right() -> None:
    session, told = play(rig(), 1200)
    states = [state for _, state, _, _ in told]
    assert states[0] == "waiting"
    assert "settling" in states
    assert states[-1] == "settled"
    first = next(t for t, _, _, settled in told if settled)
    assert 120 <= first <= 700
    estimate = session.settling.estimate()
    assert estimate is not None
    assert estimate.temp_k == pytest.approx(ROOM + 0.2, abs=0.25)
    assert estimate.uncertainty_k < 0.2
    assert estimate.lag_s == pytest.approx(50.0, rel=0.25)


@pytest.mark.parametrize(("start_k", "word"), [(ROOM + 15, "cooling"), (ROOM - 15, "warming")])
def test_a_moved_cylinder_says_its_direction_and_is_not_settled(start_k: float, word: str) -> None:
    _, told = play(rig(start_k=start_k), 2400)
    assert told[-1][1] == word
    assert not any(settled for *_, settled in told)


def test_a_finger_disturbs_and_passes() -> None:
    _, told = play(rig(), 3000, lambda t, _rig: 307.0 if 1500 <= t < 1620 else None)
    assert any(settled for t, _, _, settled in told if t < 1500)
    assert any(state == "disturbed" for t, state, _, _ in told if 1500 <= t < 1700)
    assert not any(settled for t, _, _, settled in told if 1560 <= t < 1650)
    assert told[-1][1] == "settled"
    assert "probe-moved" not in told[-1][2]


def test_a_probe_that_slips_is_told_and_not_settled_on() -> None:
    def slip(t: float, made: Rig) -> None:
        made.clamp.contact = 0.6 if t >= 3000 else 1.0

    _, told = play(rig(start_k=ROOM + 12), 5000, slip)
    assert "probe-moved" in told[-1][2]
    assert not told[-1][3]


def test_a_small_slip_before_anything_had_settled_is_not_settled_on_while_it_is_beyond_the_budget() -> None:
    def slip(t: float, made: Rig) -> None:
        made.clamp.contact = 0.85 if t >= 6000 else 1.0

    made = rig(start_k=ROOM + 8)
    gaps: list[float] = []

    def watch(t: float, rig_: Rig) -> None:
        slip(t, rig_)
        gaps.append(rig_.clamp.true_k - rig_.cylinder.surface_k)

    _, told = play(made, 5 * 3600, watch)
    after = [(gap, reasons, now) for gap, (t, _, reasons, now) in zip(gaps, told, strict=True) if t > 6300]
    assert max(-gap for gap, _, _ in after) > 0.3
    assert any("offset-changed" in reasons for _, reasons, _ in after)
    assert not any(now for gap, _, now in after if gap < -0.28)


def test_a_frozen_thermometer_is_stuck() -> None:
    def freeze(t: float, made: Rig) -> None:
        if t >= 900 and made.clamp.stuck_at_k is None:
            made.clamp.stuck_at_k = made.clamp_reading()

    made = rig()
    made.clamp = type(made.clamp)(ClampSpec(lag_s=50.0, noise_k=0.1, step_k=0.1), 303.0, ROOM, ROOM)
    _, told = play(made, 1800, freeze)
    assert "probe-stuck" in told[-1][2]
    assert not told[-1][3]


def test_a_probe_that_had_moved_and_then_freezes_is_not_trusted_when_it_thaws() -> None:
    def slip_and_freeze(t: float, made: Rig) -> None:
        made.clamp.contact = 0.6 if t >= 3000 else 1.0
        if t == 5000:
            made.clamp.stuck_at_k = made.clamp_reading()
        if t == 5900:
            made.clamp.stuck_at_k = None

    made = rig(start_k=ROOM + 12)
    made.clamp = type(made.clamp)(ClampSpec(lag_s=50.0, noise_k=0.1, step_k=0.1), 303.0, ROOM + 12, ROOM)
    _, told = play(made, 8000, slip_and_freeze)
    assert any("probe-stuck" in reasons for t, _, reasons, _ in told if 5000 < t < 5900)
    assert all("probe-moved" in reasons for t, _, reasons, _ in told if t > 5000)
    assert "probe-stuck" not in told[-1][2]


def test_a_thermometer_that_may_be_stuck_is_told_while_it_holds_a_claim_back() -> None:
    made = rig()
    made.clamp = type(made.clamp)(ClampSpec(lag_s=50.0, noise_k=0.02, step_k=0.5), 303.0, ROOM, ROOM)
    _, told = play(made, 2400)
    watched = [t for t, _, reasons, _ in told if "probe-suspect" in reasons]
    assert len(watched) > 60
    assert not any(settled for t, *_, settled in told if t <= watched[-1])
    assert told[-1][1:] == ("settled", ("liquid-untested",), True)


def test_an_offset_that_is_not_the_settled_one_is_told_while_it_holds_a_claim_back() -> None:
    def sag(t: float, made: Rig) -> None:
        made.clamp.sag_k = 0.45 if t >= 1500 else 0.0

    _, told = play(rig(), 3000, sag)
    held = [reasons for t, _, reasons, settled in told if t > 1800 and not settled]
    assert any("offset-changed" in reasons for reasons in held)
    assert not any("offset-changed" in reasons for _, _, reasons, settled in told if settled)


def test_vapour_alone_is_never_settled_once_it_has_travelled() -> None:
    _, told = play(rig(start_k=ROOM + 12, vapour=True), 9000)
    assert "no-liquid" in told[-1][2]
    assert not any(settled for *_, settled in told)


def test_vapour_alone_is_found_out_though_the_clamp_surprises_again_and_again() -> None:
    made = rig(start_k=ROOM + 10, vapour=True, seed=3)
    session = Session.of(Hookup(1, "C", "shop", "d", "d"), SettlingSettings())

    def surprise(t: float, _rig: Rig) -> None:
        if t % 500.0 == 0.0 and t and session.settling.bank is not None:
            session.settling.nis_cusum = [0.0, 40.0]

    _, told = play(made, 9000, surprise, session=session)
    assert "no-liquid" in told[-1][2]
    assert not any(settled for *_, settled in told)


def test_a_clamp_that_sags_after_it_had_settled_is_not_taken_for_vapour() -> None:
    def sag(t: float, made: Rig) -> None:
        made.clamp.sag_k = -0.002 * max(0.0, min(t, 3500.0) - 2000.0)

    _, told = play(rig(), 5000, sag)
    assert not any("no-liquid" in reasons for *_, reasons, _ in told)
    assert not any(settled for t, *_, settled in told if t > 2600)


def test_a_cylinder_that_travels_with_its_pressure_has_its_liquid_tested() -> None:
    session, _ = play(rig(start_k=ROOM + 12), 5000)
    assert session.settling.has_liquid is True
    assert "liquid-untested" not in session.reasons()


def test_a_known_lag_is_used() -> None:
    known = Session.of(Hookup(1, "C", "shop", "d", "d", probe_lag_s=50.0), SettlingSettings())
    _, told = play(rig(), 900, session=known)
    _, blind = play(rig(), 900)
    first = next(t for t, *_, settled in told if settled)
    assert first <= next(t for t, *_, settled in blind if settled) + 20


def test_few_filters_are_kept_at_rest_and_all_are_back_after_a_disturbance() -> None:
    made = rig()
    session, _ = play(made, 2400)
    assert session.settling.bank is not None
    assert len(session.settling.bank.weight) < 12
    session, told = play(made, 600, lambda _t, _rig: 308.0, session=session, start_s=2400)
    assert len(session.settling.bank.weight) == 12
    assert any(state == "disturbed" for _, state, _, _ in told)


def test_a_session_goes_on_from_its_bytes_as_if_nothing_had_been() -> None:
    made, twin = rig(seed=4), rig(seed=4)
    whole, _ = play(made, 900)
    half, _ = play(twin, 400)
    again = restore(serialize(half), half.hookup, SettlingSettings())
    assert again is not None
    again, _ = play(twin, 500, session=again, start_s=400)
    assert again.settling.estimate() == whole.settling.estimate()


@given(st.floats(5e4, 5e6), st.floats(250.0, 320.0))
def test_pressure_and_its_temperature_are_inverse(pressure_pa: float, anchor_k: float) -> None:
    z = pressure_temperature(pressure_pa, 8e5, anchor_k)
    assert pressure_at(z, 8e5, anchor_k) == pytest.approx(pressure_pa, rel=1e-9)
    step = pressure_pa * 1e-6
    slope = (pressure_temperature(pressure_pa + step, 8e5, anchor_k) - z) / step
    assert slope == pytest.approx(temperature_per_pascal(pressure_pa, z), rel=1e-3)


@pytest.mark.parametrize("designation", DESIGNATIONS)
def test_the_pressure_thermometer_follows_every_refrigerant(designation: str) -> None:
    """T dlnP/dT = a - b ln P within 14 %, the worst over 33 refrigerants (computed with CoolProp)."""
    contents = saturated(designation)
    cold, warm = contents.pressure_pa(288.15), contents.pressure_pa(303.15)
    travelled = pressure_temperature(warm, cold, 288.15) - 288.15
    assert travelled == pytest.approx(15.0, rel=0.14)


def weighed(made: Rig, duration_s: float, kg_s: float, session: Session, start_s: float) -> list[str]:
    """Play on with a scale under the cylinder and liquid of its own temperature running in; returns the states."""
    states = []
    for i in range(int(duration_s / 5.0)):
        t = start_s + 5.0 * (i + 1)
        made.step(5.0, Surroundings(ROOM, fill_kg_s=kg_s, fill_temp_k=made.cylinder.liquid_k))
        session.take("d", Reading("d", "mass", START + t, made.scale_reading()), START + t)
        session.take_clamp(START + t, made.clamp_reading(), START + t + 0.1)
        session.take_gauge(START + t, made.gauge_reading() + ATMOSPHERE, START + t + 0.1)
        while session.advance():
            pass
        states.append(session.settling.state())
    return states


def test_a_rising_weight_is_a_disturbance_though_temperature_and_pressure_rest() -> None:
    made = rig()
    session, _ = play(made, 900)
    assert session.settling.settled
    weighed(made, 60, 0.0, session, 900)
    assert session.settling.settled
    states = weighed(made, 600, 2e-3, session, 960)
    assert set(states[12:]) == {"disturbed"}
    assert weighed(made, 1500, 0.0, session, 1560)[-1] == "settled"


def test_the_air_says_that_a_cylinder_at_its_temperature_rests() -> None:
    at_rest = {}
    for air_k in (None, ROOM, ROOM - 15.0):
        session = Session.of(Hookup(1, "C", "shop", "d", "d"), SettlingSettings())
        if air_k is not None:
            session.take("d", Reading("d", "ambient-temperature", START, air_k), START)
        play(rig(), 180, session=session)
        assert session.settling.bank is not None
        at_rest[air_k] = float(session.settling.bank.weight[:6].sum())
    assert at_rest[ROOM] > at_rest[None] > at_rest[ROOM - 15.0]


def test_a_low_battery_is_told_and_an_empty_one_not_believed() -> None:
    session, _ = play(rig(), 600)
    assert session.take("d", Reading("d", "battery", START + 600, 12.0), START + 600) is None
    assert "battery-low" in session.reasons()
    assert session.take("d", Reading("d", "wall-temperature", START + 605, ROOM), START + 605) is None
    session.take("d", Reading("d", "battery", START + 610, 4.0), START + 610)
    taken = session.take("d", Reading("d", "wall-temperature", START + 615, ROOM), START + 615)
    assert taken == "battery-empty"
    assert session.is_stale(START + 800)
    session.take("d", Reading("d", "battery", START + 900, 100.0), START + 900)
    assert session.take("d", Reading("d", "wall-temperature", START + 905, ROOM), START + 905) is None
    assert "battery-low" not in session.reasons()


def test_a_gauge_on_the_liquid_valve_is_less_certain_by_what_its_tube_may_hold() -> None:
    known = {}
    for valve in ("vapour", "liquid"):
        session = Session.of(Hookup(1, "C", "shop", "d", "d", valve), SettlingSettings())
        play(rig(), 900, session=session)
        estimate = session.settling.estimate()
        assert estimate is not None
        known[valve] = estimate.pressure_uncertainty_pa
    assert known["liquid"] >= 2000.0 > known["vapour"]


def test_nothing_is_claimed_while_surprises_add_up() -> None:
    session = Session.of(Hookup(1, "C", "shop", "d", "d"), SettlingSettings())

    def surprise(t: float, _rig: Rig) -> None:
        if t < 900:
            session.settling.nis_cusum = [0.0, 12.0]

    _, told = play(rig(), 1200, surprise, session=session)
    assert not any(settled for t, *_, settled in told if t < 900)
    assert told[-1][3]


def test_a_reading_that_departs_holds_the_claim_back() -> None:
    calm, touched = rig(), rig()
    session, told = play(calm, 1200)
    at_s = next(t for t, *_, settled in told if settled)
    closes_s = 10.0 * (at_s // 10.0)

    def grip(t: float, made: Rig) -> float | None:
        if t + 5.0 >= closes_s:
            made.clamp.move(made.clamp.true_k + 0.4)
        return None

    _, told = play(touched, at_s, grip)
    assert not told[-1][3]
    assert session.settling.settled


def test_a_slip_after_hours_at_rest_is_a_disturbance() -> None:
    def slip(t: float, made: Rig) -> None:
        if t >= 9000:
            made.clamp.contact = 0.7

    _, told = play(rig(start_k=ROOM + 12.0), 11000, slip)
    assert any(state == "disturbed" for t, state, *_ in told if t > 9000)
    assert not any(settled for t, *_, settled in told if t > 9200)


def test_a_claim_is_dropped_when_its_risk_rises_again(monkeypatch: pytest.MonkeyPatch) -> None:
    session, _ = play(rig(), 1500.0)
    settling = session.settling
    assert settling.settled and settling.bank is not None
    between = (settling.settings.risk_in + settling.settings.risk_out) / 2.0
    time_s = settling.time_s
    for risk, stands in ((between, True), (settling.settings.risk_out * 1.01, False)):
        monkeypatch.setattr(FilterBank, "risk", lambda *_, risk=risk: risk)
        settling._judge(time_s + 10.0)
        assert settling.settled is stands, risk
