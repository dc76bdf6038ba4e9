"""A machine's clock that is set: the readings decide whether it was a correction or a fault."""

import pytest

from ingest.runtime.host_clock import BELIEVED_S, SET_BACK_S, VOTES, HostClock


class Machine:
    """A machine with both of its clocks."""

    def __init__(self, wall_s: float = 1.7e9) -> None:
        self.steady_s, self.ahead_s, self.start_s = 0.0, 0.0, wall_s

    def wall(self) -> float:
        return self.start_s + self.steady_s + self.ahead_s

    def steady(self) -> float:
        return self.steady_s

    def clock(self, offset_s: float | None = None) -> HostClock:
        return HostClock(self.wall, self.steady, offset_s)


def live(machine: Machine, clock: HostClock, true_ahead_s: float, readings: int = 30) -> list[float]:
    """Readings once a second with true stamps; how far off each was found to have arrived, [s]."""
    off = []
    for _ in range(readings):
        machine.steady_s += 1.0
        clock.look()
        true_s = machine.start_s + machine.steady_s + true_ahead_s
        off.append(clock.arrival_s(true_s - 0.3, clock()) - true_s)
    return off


@pytest.mark.parametrize("jump_s", [-86400.0, -3600.0, -90.0, 90.0, 3600.0, 86400.0])
def test_a_fault_of_the_wall_clock_is_not_followed_however_long_it_lasts(jump_s: float) -> None:
    machine = Machine()
    clock = machine.clock()
    machine.ahead_s = jump_s
    off = live(machine, clock, true_ahead_s=0.0, readings=1000)
    assert max(map(abs, off)) < 0.01
    machine.ahead_s = 0.0
    clock.look()
    assert not clock.in_doubt


@pytest.mark.parametrize(("jump_s", "after"), [(-3600.0, int(SET_BACK_S) + 1), (3600.0, VOTES)])
def test_a_correction_that_the_readings_confirm_is_followed_after_some_of_them(
    jump_s: float, after: int
) -> None:
    machine = Machine()
    clock = machine.clock()
    machine.ahead_s = jump_s
    off = live(machine, clock, true_ahead_s=jump_s, readings=after + 10)
    assert abs(off[after]) < 0.01
    assert not clock.in_doubt
    # A clock that was behind would have refused them as coming from the future.
    assert jump_s < 0.0 or abs(off[0]) < 0.01


@pytest.mark.parametrize("jump_s", [-45.0, -300.0])
def test_a_backlog_that_is_as_late_as_the_wall_clock_is_set_back_does_not_turn_the_clock(
    jump_s: float,
) -> None:
    """The stamps of what came after would be taken for stamps of the future, and shifted."""
    machine = Machine()
    clock = machine.clock()
    before = clock.offset_s
    machine.ahead_s = jump_s
    off = live(machine, clock, true_ahead_s=jump_s - 20.0, readings=40)
    machine.ahead_s = 0.0
    clock.look()
    assert {round(late_s) for late_s in off} == {round(20.0 - jump_s)}
    assert clock.offset_s == pytest.approx(before)


def test_without_readings_the_wall_clock_is_believed_after_a_while() -> None:
    machine = Machine()
    clock = machine.clock()
    machine.ahead_s = -3600.0
    clock.look()
    assert clock() == machine.wall() + 3600.0
    machine.steady_s += BELIEVED_S
    clock.look()
    assert clock() == machine.wall()


def test_a_time_servers_small_steps_are_followed_at_once() -> None:
    machine = Machine()
    clock = machine.clock()
    machine.ahead_s = 0.4
    clock.look()
    assert clock() == pytest.approx(machine.wall())
    assert not clock.in_doubt


def test_a_worker_that_starts_again_goes_on_with_what_was_believed() -> None:
    machine = Machine()
    before = machine.clock()
    machine.ahead_s = -3600.0
    again = machine.clock(before.offset_s)
    assert again() == before()
    assert again.in_doubt
