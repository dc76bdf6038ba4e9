"""Instruments in words: how far off, and on whose card the warning stands."""

from service.board.quantities import SPACE, Quantities
from service.board.views.instruments import instrument as view
from service.operations import instruments
from service.operations.support.context import Actor, Services
from tests.operations.test_instruments import CLAMP, GAUGE, read_one
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge


def test_the_one_that_is_off_is_warned_of_and_the_other_points_to_it(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    judge.off_k = 1.6
    for number in range(8):
        clock.forward(hours=12)
        read_one(services, actor, number)
    show = Quantities(inch_pound=True)
    (clamp,) = view(instruments.read(services, actor, CLAMP), show).sets
    (gauge,) = view(instruments.read(services, actor, GAUGE), show).sets
    assert clamp.off == f"reads 2.9{SPACE}°F high, ± 0.4{SPACE}°F"
    assert clamp.doubt.startswith(f"{CLAMP} is off by more than its class allows")
    assert (gauge.doubt, gauge.elsewhere) == ("", f"It is {CLAMP} that is in doubt.")
    assert clamp.learned.endswith("settled readings")
