"""Some thousand mutated packs; a million by `python -m tests.faults.fuzz`, and led by coverage with `--guided`."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.faults.fuzz import fuzz, guided
from tests.faults.guided import RECORD, Watch, of_packs, of_pipeline


def test_mutated_packs_are_read_or_refused_and_their_live_values_told(tmp_path: Path) -> None:
    outcomes, _ = fuzz(12_000, seed=7, folder=tmp_path)
    assert outcomes["read"] > 100
    assert outcomes["faults"] == 0
    assert {"not-senml", "name", "unit", "ahead-of-time", "behind-time", "not-finite"} <= outcomes.keys()


def test_a_hookups_life_told_by_any_bytes_ends_in_finite_pairs() -> None:
    watch = Watch(10**9, Path("unused"))
    take = of_pipeline(watch)

    record = st.tuples(
        st.integers(0, 255), st.integers(0, 255), st.integers(-300, 300), st.integers(-200, 200)
    )

    @settings(max_examples=60, deadline=None)
    @given(st.lists(record, min_size=20, max_size=80))
    def live(records: list[tuple[int, int, int, int]]) -> None:
        take(b"".join(RECORD.pack(*one) for one in records))

    live()
    assert watch.read > 100


def test_any_bytes_are_read_or_refused() -> None:
    take = of_packs(Watch(10**9, Path("unused")))

    @settings(max_examples=300, deadline=None)
    @given(st.binary(max_size=600))
    def read(data: bytes) -> None:
        take(data)

    read()


@pytest.mark.parametrize(("target", "runs"), [("packs", 20_000), ("rules", 5_000), ("pipeline", 60)])
def test_a_fuzzer_led_by_coverage_finds_nothing(tmp_path: Path, target: str, runs: int) -> None:
    pytest.importorskip("atheris", reason="atheris is not installed (optional, see tests/faults/guided.py)")
    told = guided(target, runs, 1, tmp_path)
    assert told["inputs"] == runs - 1
    assert told["read"] > 0
    assert told["covered"] > 50
