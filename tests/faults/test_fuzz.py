"""Some thousand mutated packs; a million by `python -m tests.faults.fuzz`."""

from tests.faults.fuzz import fuzz


def test_mutated_packs_are_read_or_refused() -> None:
    outcomes, _ = fuzz(5000, seed=7)
    assert outcomes["read"] > 0
    assert len(outcomes) >= 6
