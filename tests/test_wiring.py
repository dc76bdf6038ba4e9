import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from service.verdict.model import CylinderFacts
from service.wiring import LateJudge


class Engine:
    """Notes how many are in it at once."""

    def __init__(self) -> None:
        self.within, self.most = 0, 0

    def verdict(self, pairs, facts, *, prior, explain, chart):
        self.within += 1
        self.most = max(self.most, self.within)
        time.sleep(0.01)
        self.within -= 1
        return len(pairs)


def test_verdicts_wait_for_their_turn_and_all_get_it():
    engine = Engine()
    judge = LateJudge("north-america", engine)
    with ThreadPoolExecutor(8) as pool:
        told = list(pool.map(lambda n: judge.verdict([None] * n, CylinderFacts()), range(16)))
    assert told == list(range(16))
    assert engine.most == 1


def test_one_that_cannot_judge_gives_its_turn_up():
    class Refusing(Engine):
        def verdict(self, pairs, facts, *, prior, explain, chart):
            raise ValueError("pressure_pa")

    judge = LateJudge("north-america", Refusing())
    for _ in range(2):
        with pytest.raises(ValueError, match="pressure_pa"):
            judge.verdict([], CylinderFacts())
