"""Who waits for a password to be checked, and in which order."""

import threading

from service.operations.support.passwords import Turns
from tests.support.waiting import until


class Queue:
    """Callers that wait for their turn in threads of their own; each ends it at once."""

    def __init__(self) -> None:
        self.turns, self.served = Turns(1), list[str]()
        self.threads: list[threading.Thread] = []

    def waits(self, name: str, *, first_try: bool) -> None:
        before = self.turns.waiting

        def call() -> None:
            assert self.turns.take(20.0, first_try=first_try)
            self.served.append(name)
            self.turns.give_back()

        self.threads.append(threading.Thread(target=call))
        self.threads[-1].start()
        until(lambda: self.turns.waiting == before + 1)

    def served_in_order(self) -> list[str]:
        for thread in self.threads:
            thread.join(20.0)
        return self.served


def test_who_has_not_failed_lately_goes_before_all_who_have() -> None:
    queue = Queue()
    assert queue.turns.take(0.0, first_try=False)
    for number in range(5):
        queue.waits(f"guesser {number}", first_try=False)
    queue.waits("first", first_try=True)
    queue.waits("second", first_try=True)
    queue.turns.give_back()
    assert queue.served_in_order() == ["first", "second", *(f"guesser {number}" for number in range(5))]


def test_who_waits_too_long_leaves_the_queue() -> None:
    turns = Turns(1)
    assert turns.take(0.0, first_try=True)
    assert not turns.take(0.01, first_try=True)
    assert turns.waiting == 0
    turns.give_back()
    assert turns.take(0.0, first_try=False)
