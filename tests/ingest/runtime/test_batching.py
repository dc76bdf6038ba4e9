"""Batches: how they gather, and that it makes no difference to what comes out how packs are batched."""

import json
from pathlib import Path

import pytest

from ingest.estimator.settling_settings import SettlingSettings
from ingest.runtime.batching import LARGE_PACK, MOST_IN_BATCH, Batcher
from ingest.runtime.journal import Journal, Row
from ingest.sessions.pairing import EquilibriumPair
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from ingest.wire.mapping import kept_mappings, parse
from ingest.wire.mqtt import Pack
from ingest.wire.translator import Translator
from tests.support.fake_service import hookup
from tests.support.feeding import Made, one_device
from tests.support.sparkplug_bytes import double, metric, payload
from tests.support.workers import FakeListener

DEVICE = "urn:dev:mac:0024befffe804ff1"


@pytest.fixture(scope="module")
def packs() -> list[Made]:
    return one_device(DEVICE, seed=4)


@pytest.fixture
def batcher(tmp_path: Path) -> Batcher:
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup.from_json(hookup(7, DEVICE))])
    return Batcher(pipeline, Journal(tmp_path / "w.sqlite"), FakeListener(), lambda: 0.0)


def packed(payload: bytes, arrival_s: float, *, retained: bool = False) -> Pack:
    return Pack(1, 1, "shop", DEVICE, payload, retained, arrival_s)


def settled_by(batcher: Batcher, packs: list[Made], size: int) -> tuple[list[Row], list[EquilibriumPair]]:
    rows, pairs = [], []
    for start in range(0, len(packs), size):
        some = [packed(made.payload, made.stamp_s + 0.3) for made in packs[start : start + size]]
        more_rows, more_pairs = batcher.process(some)
        rows += more_rows
        pairs += more_pairs
    return rows, pairs


def test_a_batch_has_an_end_and_keeps_the_order(batcher: Batcher, packs: list[Made]) -> None:
    batcher.listener.deliver(packs * (MOST_IN_BATCH // len(packs) + 1))
    first, second = batcher.gather(), batcher.gather()
    assert len(first) == MOST_IN_BATCH
    assert [pack.mid for pack in first + second] == list(range(1, len(first + second) + 1))
    assert batcher.gather() == []


def test_a_backlog_gathers_while_it_grows_and_no_longer(
    batcher: Batcher, packs: list[Made], monkeypatch: pytest.MonkeyPatch
) -> None:
    arriving = [packs[2:5], packs[5:9], []]
    monkeypatch.setattr(
        "ingest.runtime.batching.time.sleep", lambda _s: batcher.listener.deliver(arriving.pop(0))
    )
    batcher.listener.deliver(packs[:2])
    assert [pack.payload for pack in batcher.gather()] == [made.payload for made in packs[:9]]
    assert arriving == []


@pytest.mark.parametrize("size", [7, 1000])
def test_what_comes_out_does_not_depend_on_how_packs_are_batched(
    tmp_path: Path, batcher: Batcher, packs: list[Made], size: int
) -> None:
    other = Batcher(Pipeline(SettlingSettings()), Journal(tmp_path / "o.sqlite"), FakeListener(), lambda: 0.0)
    other.pipeline.attach([Hookup.from_json(hookup(7, DEVICE))])
    one_by_one, batched = settled_by(batcher, packs, 1), settled_by(other, packs, size)
    assert batched == one_by_one
    assert len(batched[1]) == 1
    assert other.pipeline.counts == batcher.pipeline.counts


def test_what_is_refused_or_retained_takes_no_number_and_nothing_from_the_others(
    batcher: Batcher, packs: list[Made]
) -> None:
    good = [packed(made.payload, made.stamp_s + 0.3) for made in packs[:2]]
    rows, _ = batcher.process(
        [good[0], packed(b"{", 1.7e9), packed(good[0].payload, 1.7e9, retained=True), good[1]]
    )
    assert [row.seq for row in rows] == [1, 2]
    assert [row.payload for row in rows] == [pack.payload for pack in good]
    assert [reason for _, reason in batcher.listener.refusals] == ["not-senml"]
    assert batcher.pipeline.counts["readings"] == 4


def test_a_pack_with_a_bad_record_is_kept_for_its_good_ones_and_told_of(
    batcher: Batcher, packs: list[Made]
) -> None:
    records = [*json.loads(packs[0].payload), {"n": "mass", "u": "lb", "v": 20}]
    rows, _ = batcher.process([packed(json.dumps(records).encode(), packs[0].stamp_s + 0.3)])
    assert len(rows) == 1
    assert [reason for _, reason in batcher.listener.refusals] == ["unit"]
    counts = batcher.pipeline.counts
    assert (counts["readings"], counts["refused-records:unit"], counts["refused:unit"]) == (2, 1, 0)


def foreign(topic: str, payload: object, *, retained: bool = False, arrival_s: float = 1.7e9) -> Pack:
    return Pack(1, 1, "", "", json.dumps(payload).encode(), retained, arrival_s, topic=topic)


@pytest.fixture
def translating(batcher: Batcher) -> Batcher:
    value = [
        {"quantity": "gauge-pressure", "path": "p", "unit": "[psi]"},
        {"quantity": "wall-temperature", "path": "t", "unit": "Cel"},
    ]
    mapping = {"name": "m", "topic": "x/{place}", "each": "[] || @", "device": "d", "value": value}
    text = json.dumps({"mapping": [mapping]})
    return Batcher(
        batcher.pipeline,
        batcher.journal,
        batcher.listener,
        batcher.clock,
        Translator(parse(text, toml=False, root="heelmark")),
    )


def test_a_foreign_message_is_kept_as_a_pack_a_device_and_replayed_to_the_same_numbers(
    translating: Batcher,
) -> None:
    payload = [{"d": "g", "p": 136.6}, {"d": "c", "t": 24.5}, {"d": "g", "t": 24.6}]
    rows, _ = translating.process([foreign("x/shop", payload)])
    assert [(row.seq, row.place, row.device) for row in rows] == [(1, "shop", "c"), (2, "shop", "g")]
    heard = {name: dict(device.newest) for name, device in translating.pipeline.devices.items()}
    assert set(heard) == {"g", "c"}
    again = Pipeline(SettlingSettings())
    for row in rows:
        again.take(row.place, row.device, row.payload, row.arrival_s)
    assert {name: dict(device.newest) for name, device in again.devices.items()} == heard


def test_a_foreign_message_that_no_mapping_reads_is_told_of_and_not_kept(translating: Batcher) -> None:
    rows, _ = translating.process(
        [foreign("x/shop", {"d": "g"}), foreign("x/shop", {"d": "g", "p": 1.0}, retained=True)]
    )
    assert rows == []
    assert [reason for _, reason in translating.listener.refusals] == ["not-understood"]
    counts = translating.pipeline.counts
    assert (counts["refused:not-understood"], counts["retained"], counts["translated"]) == (1, 1, 0)


def test_a_node_whose_birth_was_not_heard_is_asked_for_it_and_read_from_then_on(batcher: Batcher) -> None:
    mapping = {
        "name": "node",
        "topic": "spBv1.0/{place}/{type}/{node}/{device}",
        "each": "metrics",
        "value": [{"quantity": "gauge-pressure", "path": "value", "unit": "[psi]"}],
    }
    text = json.dumps({"mapping": [mapping]})
    batcher.translator = Translator(parse(text, toml=False, root="heelmark"))
    said = metric(double(13, 136.6), alias=7)
    birth = payload(2, metric(double(13, 136.5), name="Pressure", alias=7))

    def sent(kind: str, message: bytes) -> Pack:
        return Pack(1, 0, "", "", message, False, 1.7e9, topic=f"spBv1.0/shop/{kind}/edge-3/gauge-3")

    rows, _ = batcher.process([sent("DDATA", payload(0, said)), sent("DDATA", payload(1, said))])
    assert rows == []
    assert [topic for topic, _ in batcher.listener.published] == ["spBv1.0/shop/NCMD/edge-3"]
    (line,) = batcher.pipeline.misunderstood.take(9)
    assert (line["reason"], line["count"], line["message"]["metrics"][0]["alias"]) == ("no-birth", 2, 7)
    rows, _ = batcher.process([sent("DBIRTH", birth), sent("DDATA", payload(3, said))])
    assert [row.device for row in rows] == ["gauge-3", "gauge-3"]
    assert len(batcher.listener.published) == 1


def test_a_bad_value_of_a_foreign_message_is_told_of_and_the_others_are_kept(translating: Batcher) -> None:
    rows, _ = translating.process([foreign("x/shop", {"d": "g", "p": "high", "t": 24.5})])
    assert len(rows) == 1
    assert [reason for _, reason in translating.listener.refusals] == ["not-a-number"]
    assert translating.pipeline.counts["refused-records:not-a-number"] == 1


def test_a_large_pack_is_fed_in_its_turn(batcher: Batcher, packs: list[Made]) -> None:
    stamp_s = packs[LARGE_PACK].stamp_s
    large = [
        {**record, "bn": f"{DEVICE}:", "bt": made.stamp_s}
        for made in packs[: LARGE_PACK + 1]
        for record in json.loads(made.payload)
    ]
    later = packs[LARGE_PACK + 1]
    batcher.process(
        [packed(json.dumps(large).encode(), stamp_s + 0.3), packed(later.payload, later.stamp_s + 0.3)]
    )
    assert batcher.pipeline.counts["readings"] == 2 * (LARGE_PACK + 2)
    assert not any(name.startswith("dropped") for name in batcher.pipeline.counts)


def test_what_cannot_be_read_is_noted_for_the_owner(batcher: Batcher) -> None:
    psi = b'[{"n":"gauge-pressure","u":"psi","v":120},{"n":"wall-temperature","u":"Cel","v":20}]'
    batcher.process([packed(b'[{"n":"pressure","u":"Pa","v":8e5}]', 1.7e9), packed(psi, 1.7e9)])
    batcher.process([packed(b"<xml/>", 1.7e9 + 1)])
    told = {one["reason"]: one for one in batcher.pipeline.misunderstood.take(10)}
    assert set(told) == {"unknown-name", "unit", "not-senml"}
    assert "pressure" in told["unknown-name"]["detail"] and not told["unknown-name"]["partly"]
    assert told["unit"]["partly"] and "psi" in told["unit"]["detail"]
    assert told["not-senml"]["example"] == "<xml/>" and told["not-senml"]["source"] == DEVICE


PSI = b'[{"bn":"probe-1:","n":"gauge-pressure","u":"psi","v":118}]'


def reading_psi(version: int = 1, unit: str = "[psi]") -> Translator:
    value = [{"quantity": "gauge-pressure", "path": "[?n=='gauge-pressure'] | [0].v", "unit": unit}]
    mapping = {"name": "psi", "topic": "heelmark/{place}/readings/{device}", "each": "[@]", "value": value}
    kept, faults = kept_mappings([{"name": "psi", "version": version, "mapping": mapping}], "heelmark")
    assert not faults
    return Translator(kept)


def own(payload: bytes, at_s: float = 1.7e9) -> Pack:
    return Pack(1, 1, "shop", "probe-1", payload, False, at_s)


def test_a_mapping_reads_what_is_no_senml_on_our_own_topics_and_nothing_else(batcher: Batcher) -> None:
    batcher.translator = reading_psi()
    assert batcher.translator.filters() == []
    good = b'[{"bn":"probe-1:","n":"gauge-pressure","u":"Pa","v":813000}]'
    part = json.dumps([*json.loads(PSI), {"n": "wall-temperature", "u": "Cel", "v": 20.0}]).encode()
    rows, _ = batcher.process([own(PSI), own(good), own(part), own(b'[{"n":"rssi","v":3}]')])
    values = [{r["n"].split(":")[-1]: r["v"] for r in json.loads(row.payload)} for row in rows]
    psi = pytest.approx(118 * 6894.757293168361)
    assert values[0] == {"gauge-pressure": psi}
    assert values[1] == {"gauge-pressure": 813000}
    assert values[2]["wall-temperature"] == 20.0 and values[3] == {"gauge-pressure": psi}
    assert batcher.listener.refusals == []
    assert [one.reason for one in batcher.unread] == ["unknown-name"]


def test_what_could_not_be_read_is_read_when_its_mapping_is_mended(batcher: Batcher) -> None:
    batcher.process([own(PSI, 1.7e9), own(PSI.replace(b"118", b"119"), 1.7e9 + 5.0)])
    assert [(one.topic, one.translator, one.payload[:5]) for one in batcher.unread] == [
        ("heelmark/shop/readings/probe-1", "", PSI[:5])
    ] * 2
    batcher.journal.commit([], [], (), 0.0, batcher.unread)
    assert batcher.read_again() == ([], [], []), "no mapping has changed"
    batcher.translator = reading_psi()
    rows, _, understood = batcher.read_again()
    assert [(row.device, row.arrival_s) for row in rows] == [("probe-1", 1.7e9), ("probe-1", 1.7e9 + 5.0)]
    assert batcher.pipeline.devices["probe-1"].newest["gauge-pressure"].value == pytest.approx(
        119 * 6894.757293
    )
    batcher.journal.commit(rows, [], (), 0.0, (), understood)
    assert batcher.journal.unread() == []


def test_a_message_that_a_mapping_could_not_read_waits_for_its_next_version(batcher: Batcher) -> None:
    value = [{"quantity": "mass", "path": "kg", "unit": "kg"}]
    mapping = {"name": "m", "topic": "x/{place}/{device}", "value": value}
    batcher.translator = Translator(
        kept_mappings([{"name": "m", "version": 1, "mapping": mapping}], "heelmark")[0]
    )
    batcher.process([foreign("x/shop/d", {"lb": 20})])
    batcher.journal.commit([], [], (), 0.0, batcher.unread)
    assert batcher.unread[0].translator == "m 1"
    counts = batcher.pipeline.counts.copy()
    assert batcher.read_again()[2] == []
    assert batcher.pipeline.counts == counts, "it was tried with this very mapping"
    value[0] |= {"path": "lb", "unit": "[lb_av]"}
    batcher.translator = Translator(
        kept_mappings([{"name": "m", "version": 2, "mapping": mapping}], "heelmark")[0]
    )
    rows, _, understood = batcher.read_again()
    assert len(rows) == len(understood) == 1


def test_one_topic_does_not_push_the_others_out_of_what_is_kept_to_be_read_again(
    batcher: Batcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ingest.runtime.journal.MOST_OF_TOPIC", 3)
    monkeypatch.setattr("ingest.runtime.journal.MOST_UNREAD", 4)
    for number in range(6):
        batcher.process([own(PSI, 1.7e9 + number), foreign(f"y/{number}", 3)])
    batcher.journal.commit([], [], (), 0.0, batcher.unread)
    kept = [one.topic for _, one in batcher.journal.unread()]
    assert len(kept) == 4 and kept[-2:] == ["heelmark/shop/readings/probe-1", "y/5"]
    batcher.journal.commit([], [], (), 0.0, [batcher.unread[0]] * 5)
    assert len([one for _, one in batcher.journal.unread() if "probe-1" in one.topic]) == 3


def test_a_large_message_is_not_kept_and_a_topic_without_a_mapping_is_not_answered(batcher: Batcher) -> None:
    batcher.process([foreign("camera/1", "x" * 20_000), foreign("y/1", 3)])
    assert [one.topic for one in batcher.unread] == ["y/1"]
    assert batcher.listener.refusals == []
    told = batcher.pipeline.misunderstood.take(10)
    assert [(one["source"], one["message"]) for one in told] == [("y/1", 3), ("camera/1", None)]
