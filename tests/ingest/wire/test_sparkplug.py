"""Sparkplug B, from bytes written without the library that decodes them: names, aliases, sequence, and refusals."""

from pathlib import Path

import pytest

import ingest.wire.sparkplug as module
import service.mappings
from ingest.wire.document import told
from ingest.wire.mapping import parse
from ingest.wire.reading import Reading, Refused
from ingest.wire.sparkplug import Address, BirthRequests, Births
from ingest.wire.translator import NOTHING, Translator
from tests.support.sparkplug_bytes import block, double, metric, payload, single, whole

NOON = 1772366400.0
AT_MS = int(NOON * 1000)
SHIPPED = Path(service.mappings.__file__).parent / "shipped" / "sparkplug.toml"
PSI, DOUBLE, FLOAT = 6894.757293168361, 10, 9
DEVICE = "gauge-3"


def topic(kind: str, device: str = DEVICE) -> str:
    return f"spBv1.0/shop/{kind}/edge-3" + (f"/{device}" if device else "")


def translator() -> Translator:
    return Translator(parse(SHIPPED.read_text(), toml=True, root="heelmark"))


def birth(seq: int, pressure_alias: int = 7, temp_alias: int = 8) -> bytes:
    return payload(
        seq,
        metric(double(13, 136.6), name="Pressure/Gauge", alias=pressure_alias, at_ms=AT_MS, datatype=DOUBLE),
        metric(single(12, 76.5), name="Temperature/Wall", alias=temp_alias, at_ms=AT_MS, datatype=FLOAT),
        metric(whole(11, 3), name="Signal", alias=9, at_ms=AT_MS, datatype=4),
        at_ms=AT_MS,
    )


def data(seq: int, alias: int, value: bytes, at_ms: int = AT_MS + 10_000) -> bytes:
    return payload(seq, metric(value, alias=alias, at_ms=at_ms), at_ms=at_ms)


def read(by: Translator, kind: str, message: bytes, device: str = DEVICE) -> list[Reading]:
    found = by.read(topic(kind, device), message, NOON + 15.0)
    assert not found.taken.refusals
    return found.taken.readings


def born() -> Translator:
    by = translator()
    assert read(by, "NBIRTH", payload(0), "") == []
    assert len(read(by, "DBIRTH", birth(1))) == 2
    return by


def test_the_shipped_mapping_reads_a_birth_by_names_and_data_by_aliases() -> None:
    by = translator()
    assert read(by, "NBIRTH", payload(0), "") == []
    assert read(by, "DBIRTH", birth(1)) == [
        Reading(DEVICE, "gauge-pressure", NOON, pytest.approx(136.6 * PSI)),
        Reading(DEVICE, "wall-temperature", NOON, pytest.approx((76.5 + 459.67) / 1.8)),
    ]
    assert read(by, "DDATA", data(2, 8, single(12, 77.0))) == [
        Reading(DEVICE, "wall-temperature", NOON + 10.0, pytest.approx((77.0 + 459.67) / 1.8))
    ]
    assert by.read(topic("DDATA"), data(3, 7, double(13, 0.0)), NOON + 15.0).place == "shop"


def test_data_before_a_birth_is_refused_and_so_is_what_the_birth_of_another_device_named() -> None:
    by = translator()
    for seq, device in ((0, DEVICE), (2, "gauge-4")):
        with pytest.raises(Refused, match="no birth yet: metric with alias 7") as refused:
            read(by, "DDATA", data(seq, 7, double(13, 136.0)), device)
        assert refused.value.reason == "no-birth"
        read(by, "DBIRTH", birth(seq + 1))
    named = payload(2, metric(double(13, 136.0), name="Pressure/Gauge", at_ms=AT_MS))
    assert [one.value for one in read(translator(), "DDATA", named)] == [pytest.approx(136.0 * PSI)]


def test_a_missing_message_may_have_been_a_birth_so_aliases_are_forgotten() -> None:
    by = born()
    assert read(by, "DDATA", data(2, 7, double(13, 136.0)))
    assert read(by, "DDATA", data(2, 7, double(13, 136.0))), "the same message again is no gap"
    with pytest.raises(Refused, match="no birth yet"):
        read(by, "DDATA", data(4, 7, double(13, 136.0)))
    read(by, "DBIRTH", birth(5, pressure_alias=8, temp_alias=7))
    assert [one.quantity for one in read(by, "DDATA", data(6, 7, single(12, 77.0)))] == ["wall-temperature"]


def test_the_sequence_goes_on_from_255_to_0_and_counts_the_nodes_own_messages() -> None:
    by = translator()
    read(by, "DBIRTH", birth(254))
    assert read(by, "NDATA", payload(255), "") == []
    assert read(by, "DDATA", data(0, 7, double(13, 136.0)))


def test_a_death_and_a_birth_of_the_node_begin_anew() -> None:
    for kind, device, message in (
        ("NDEATH", "", payload(None)),
        ("NBIRTH", "", payload(0)),
        ("DDEATH", DEVICE, payload(2)),
    ):
        by = born()
        assert read(by, kind, message, device) == []
        with pytest.raises(Refused, match="no birth yet"):
            read(by, "DDATA", data(int(kind == "DDEATH") * 2 + 1, 7, double(13, 136.0)))


def test_what_has_changed_may_be_nothing_that_is_mapped_and_a_command_is_no_reading() -> None:
    by = born()
    assert by.read(topic("DDATA"), data(2, 9, whole(11, 4)), NOON + 15.0) is NOTHING
    assert read(by, "DCMD", payload(None)) == []


@pytest.mark.parametrize(
    ("value", "datatype", "said"),
    [
        (whole(10, 0xFF), 1, -1),
        (whole(10, 0xFFFFFFFE), 2, -2),
        (whole(10, 0xFFFD), 2, -3),
        (whole(10, 0xFFFFFFFC), 3, -4),
        (whole(11, (1 << 64) - 5), 4, -5),
        (whole(10, 200), 5, 200),
        (whole(10, 40_000), 6, 40_000),
        (whole(11, 1 << 40), 8, 1 << 40),
        (whole(14, 1), 11, True),
        (block(15, b"open"), 12, "open"),
        (double(13, 0.1), 10, 0.1),
        (block(16, b"\x00"), 17, None),
        (whole(7, 1), 10, None),
    ],
)
def test_every_kind_of_value(value: bytes, datatype: int, said: object) -> None:
    tree = Births().shown(Address.of(topic("DDATA")), payload(1, metric(value, name="x", datatype=datatype)))
    assert tree["metrics"][0]["value"] == said
    assert type(tree["metrics"][0]["value"]) is type(said)


def test_a_metric_has_its_own_time_or_the_messages_and_its_properties() -> None:
    unit = block(1, b"engUnit") + block(2, whole(1, 12) + block(8, b"psi"))
    made = payload(
        4,
        metric(double(13, 1.0), name="a", at_ms=5, datatype=10, more=whole(5, 1) + block(9, unit)),
        metric(double(13, 2.0), name="b", alias=3),
        at_ms=9,
    )
    tree = Births().shown(Address.of(topic("DDATA")), made)
    assert {name: tree[name] for name in ("group", "type", "node", "device", "seq", "timestamp")} == {
        "group": "shop", "type": "DDATA", "node": "edge-3", "device": DEVICE, "seq": 4, "timestamp": 9,
    }  # fmt: skip
    first, second = tree["metrics"]
    assert (first["timestamp"], first["is_historical"], first["properties"]) == (5, True, {"engUnit": "psi"})
    assert (second["timestamp"], second["alias"], second["is_historical"]) == (9, 3, False)


def test_what_is_no_payload_is_refused_by_name_and_not_taken_for_cbor() -> None:
    with pytest.raises(Refused) as refused:
        read(translator(), "DDATA", b"\xff\xff\xff")
    assert refused.value.reason == "not-sparkplug"
    assert told(birth(1), topic("DBIRTH"))["metrics"][0]["name"] == "Pressure/Gauge"
    assert told(b"\xff\xff\xff", topic("DBIRTH")) is None


def test_a_mapping_of_a_devices_data_alone_hears_the_births_too() -> None:
    text = SHIPPED.read_text().replace("{type}", "DDATA")
    by = Translator(parse(text, toml=True, root="heelmark"))
    assert {"spBv1.0/+/+/+", "spBv1.0/+/+/+/+"} <= set(by.filters())
    assert read(by, "DBIRTH", birth(1)) == []
    assert len(read(by, "DDATA", data(2, 7, double(13, 136.0)))) == 1


def test_births_are_remembered_before_there_is_a_mapping_and_what_is_shown_has_their_names() -> None:
    by = Translator()
    for kind, message in (("DBIRTH", birth(1)), ("DDATA", data(2, 7, double(13, 137.0)))):
        with pytest.raises(Refused, match="is of no mapping"):
            by.read(topic(kind), message, NOON + 15.0)
    with_mapping = Translator(translator().mappings, births=by.births)
    assert [one.value for one in read(with_mapping, "DDATA", data(3, 7, double(13, 138.0)))] == [138.0 * PSI]

    def names(known: Births | None, device: str = DEVICE) -> list[str | None]:
        tree = told(data(4, 7, double(13, 137.0)), topic("DDATA", device), known)
        assert isinstance(tree, dict)
        return [metric["name"] for metric in tree["metrics"]]

    assert names(by.births) == ["Pressure/Gauge"]
    assert names(None) == names(Births()) == names(by.births, "gauge-4") == [None]


def test_a_message_read_again_later_knows_no_alias_and_changes_nothing() -> None:
    by = born()
    with pytest.raises(Refused, match="no birth yet"):
        by.read(topic("DDATA"), data(1, 7, double(13, 136.0)), NOON, is_new=False)
    assert read(by, "DDATA", data(2, 7, double(13, 136.0)))


def test_births_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    births = Births()
    monkeypatch.setattr(module, "MOST_NODES", 3)
    monkeypatch.setattr(module, "MOST_ALIASES", 7)
    for number in range(6):
        births.tree(Address("shop", "DBIRTH", f"edge-{number}", DEVICE), birth(1))
        assert len(births.nodes) <= 3
    assert sum(len(one.metrics) for one in births.nodes.values()) <= 7
    assert ("shop", "edge-5") in births.nodes


def test_a_birth_is_asked_for_as_the_specification_says_once_a_minute_and_node() -> None:
    requests = BirthRequests()
    asked = payload(None, metric(whole(14, 1), name="Node Control/Rebirth", datatype=11))
    assert requests.due(topic("DDATA"), 5.0) == ("spBv1.0/shop/NCMD/edge-3", asked)
    assert requests.due(topic("NDATA", ""), 64.0) is None
    assert requests.due("spBv1.0/shop/NDATA/edge-4", 64.0) is not None
    assert requests.due(topic("DDATA"), 66.0) is not None
    assert requests.due("vans/van-7/gauge-3/state", 0.0) is None
