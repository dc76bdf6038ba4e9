"""Coverage-guided fuzzing of the pack parser, of the quality rules, and of the whole pipeline, with atheris.

    python -m tests.faults.fuzz --guided --target packs --runs 1000000
    python -m tests.faults.fuzz --guided --target rules --runs 1000000
    python -m tests.faults.fuzz --guided --target pipeline --runs 10000

atheris is not among the locked packages, since it has no wheels for every Python that the project runs on: install it
beside them with `pip install atheris` (the group `fuzz` of pyproject.toml). This module is run by `tests.faults.fuzz`
in a process of its own, because libFuzzer ends the process when it is done.
"""

from __future__ import annotations

import json
import math
import struct
import sys
from pathlib import Path
from typing import Any

import psutil

from tests.faults.packs import DEVICE, NOW, NUMBERS, seeds

LONGEST = {"packs": 900, "rules": 180, "pipeline": 900}
OTHER = "urn:dev:mac:0024befffe804ff2"
RECORD = struct.Struct("<BBhh")
"""One reading of the pipeline's target: what and whose, how the clocks moved [0.1 s], a value."""
QUANTITIES = (
    ("gauge-pressure", "Pa", 8.0e5, 40.0),
    ("absolute-pressure", "Pa", 9.0e5, 40.0),
    ("wall-temperature", "Cel", 22.0, 0.005),
    ("ambient-temperature", "K", 295.0, 0.01),
    ("ambient-pressure", "Pa", 1.0e5, 1.0),
    ("mass", "kg", 20.0, 0.01),
    ("battery", "%EL", 50.0, 0.01),
)


class Watch:
    """Counts inputs and writes at the last one how much memory the last two fifths have cost."""

    def __init__(self, runs: int, report: Path) -> None:
        self.runs, self.report, self.count, self.start_mb = runs, report, 0, 0.0
        self.read, self.pairs = 0, 0

    def one_more(self) -> None:
        """Count an input."""
        self.count += 1
        if self.count == 3 * self.runs // 5:
            self.start_mb = self._memory_mb()
        if self.count == self.runs - 1:
            grown = round(self._memory_mb() - self.start_mb, 1)
            told = {"inputs": self.count, "read": self.read, "pairs": self.pairs}
            self.report.write_text(json.dumps({**told, "growth_mb_in_the_last_two_fifths": grown}))

    @staticmethod
    def _memory_mb() -> float:
        return psutil.Process().memory_info().rss / 1e6


def story(data: bytes) -> list[tuple[str, bytes, float]]:
    """Return the packs that fuzzed bytes stand for: topic's device, pack, arrival [s]."""
    packs, stamp_s, late_s = [], NOW, 0.3
    for what, whose, moved, value in RECORD.iter_unpack(data[: len(data) - len(data) % RECORD.size]):
        name, unit, middle, step = QUANTITIES[what % len(QUANTITIES)]
        stamp_s += moved / 10.0 if what & 0x80 else (moved & 0xFF) / 10.0
        late_s = late_s + moved if what & 0x40 else max(late_s, 0.0)
        device = OTHER if whose & 1 else DEVICE
        odd_s = NUMBERS[whose % len(NUMBERS)] if what & 0x20 and whose & 2 else stamp_s
        record = {"bn": f"{device}:", "bt": odd_s, "n": name, "u": unit, "v": middle + step * value}
        packs.append((device, json.dumps([record]).encode(), stamp_s + late_s))
    return packs


def courses(data: bytes) -> list[tuple[float, float, float]]:
    """Return the readings of one thermometer that fuzzed bytes stand for: stamp [s], value [K], arrival [s]."""
    readings, stamp_s, arrival_s, temp_k = [], NOW, NOW, 295.0
    for what, late, moved, step in RECORD.iter_unpack(data[: len(data) - len(data) % RECORD.size]):
        stamp_s += moved * (1000.0 if what & 0x80 else 0.1)
        arrival_s = (
            arrival_s + abs(moved) * 0.1 if what & 0x40 else stamp_s + late * (60.0 if what & 0x20 else 0.01)
        )
        temp_k = 295.0 + 0.05 * step if what & 0x10 else temp_k + 0.005 * (step % 16 - 8)
        readings.append((stamp_s, temp_k, arrival_s))
    return readings


def of_packs(watch: Watch) -> Any:
    """Return what takes one input as one pack: read, or refused, and nothing else."""
    from ingest.wire.reading import Refused
    from ingest.wire.senml import read

    def take(data: bytes) -> None:
        watch.one_more()
        try:
            readings = read(data, DEVICE, NOW).readings
        except Refused:
            return
        watch.read += 1
        assert all(math.isfinite(one.value) and math.isfinite(one.stamp_s) for one in readings)

    return take


def of_rules(watch: Watch) -> Any:
    """Return what takes one input as one sensor's readings: what is accepted is in order, in range and finite."""
    from ingest.estimator.sensor_series import TEMPERATURE_LIMITS, SensorSeries

    limits = TEMPERATURE_LIMITS

    def take(data: bytes) -> None:
        watch.one_more()
        series, newest_s = SensorSeries(limits), -math.inf
        for stamp_s, value, arrival_s in courses(data):
            accepted, _ = series.take(stamp_s, value, arrival_s)
            for at_s, good in accepted:
                watch.read += 1
                assert at_s > newest_s
                assert limits.lowest <= good <= limits.highest
                newest_s = at_s
            assert math.isfinite(series.reading_variance())
            assert series.reading_variance() > 0.0
            assert isinstance(series.is_stuck, bool)
        assert max(len(series.recent), len(series.seen), len(series.sparse), len(series.sparser)) < 500

    return take


def of_pipeline(watch: Watch) -> Any:
    """Return what takes one input as a hookup's life: pairs are finite, queues bounded, sessions can be stored."""
    from ingest.estimator.settling_settings import SettlingSettings
    from ingest.sessions.live import batch
    from ingest.sessions.pairing import encoded
    from ingest.sessions.pipeline import Pipeline
    from ingest.sessions.session import LONGEST_QUEUE
    from ingest.sessions.snapshot import restore, serialize
    from ingest.wire.hookup import Hookup
    from ingest.wire.reading import Refused

    settings = SettlingSettings()

    def take(data: bytes) -> None:
        watch.one_more()
        pipeline = Pipeline(settings)
        pipeline.attach([Hookup(1, "C", "shop", DEVICE, DEVICE), Hookup(2, "C", "shop", OTHER, DEVICE)])
        for device, pack, arrival_s in story(data):
            try:
                pairs = pipeline.take("shop", device, pack, arrival_s)
            except Refused:
                continue
            watch.read += 1
            watch.pairs += len(pairs)
            for pair in pairs:
                json.loads(encoded(pair.as_json()), parse_constant=_never)
        json.dumps(batch("shop", pipeline, [1, 2], [DEVICE, OTHER], NOW), allow_nan=False)
        for session in pipeline.sessions.values():
            assert len(session.clamp_queue) <= LONGEST_QUEUE + 1
            assert restore(serialize(session), session.hookup, settings) is not None

    return take


def _never(word: str) -> float:
    raise AssertionError(f"a pair with {word} in it")


def main() -> None:
    """Run as `python -m tests.faults.guided TARGET RUNS SEED REPORT CORPUS`; libFuzzer ends the process."""
    target, runs, seed, report, corpus = sys.argv[1:6]
    import atheris

    watch = Watch(int(runs), Path(report))
    with atheris.instrument_imports(include=["ingest"]):
        take = {"packs": of_packs, "rules": of_rules, "pipeline": of_pipeline}[target](watch)
    flags = [
        f"-atheris_runs={runs}",
        f"-seed={seed}",
        f"-max_len={LONGEST[target]}",
        "-timeout=60",
        "-rss_limit_mb=4096",
    ]
    atheris.Setup([sys.argv[0], *flags, f"-artifact_prefix={corpus}/found-", corpus], take)
    atheris.Fuzz()


def prepare(corpus: Path) -> None:
    """Put packs and a quiet course to begin with into the corpus's folder."""
    for number, pack in enumerate(seeds()):
        (corpus / f"pack-{number}").write_bytes(pack)
    quiet = [RECORD.pack(what, 0, 50 if what == 2 else 0, n % 3) for n in range(90) for what in (0, 2)]
    (corpus / "quiet").write_bytes(b"".join(quiet))


if __name__ == "__main__":
    main()
