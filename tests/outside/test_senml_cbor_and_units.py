"""SenML's CBOR form and its secondary units against what the RFCs print.

Labels: RFC 8428, table 4 (from memory). Secondary units: RFC 8798, section 3, read in the working group's repository of
the RFC's text, core-wg/senml-more-units, commit 046746a: `hPa`, hectopascal, `Pa`, scale 100, offset 0.
"""

import json

import pytest

from ingest.wire.reading import Refused
from ingest.wire.senml import Record, read, resolve
from ingest.wire.senml_cbor import LABELS

NOW = 1.320078429e9


def test_the_labels_are_those_of_table_4() -> None:
    table = {"bn": -2, "bt": -3, "bu": -4, "bv": -5, "bs": -6, "bver": -1}
    table |= {"n": 0, "u": 1, "v": 2, "vs": 3, "vb": 4, "vd": 8, "s": 5, "t": 6, "ut": 7}
    assert {name: number for number, name in LABELS.items()} == table


def test_the_single_datapoint_of_section_5_1_1_in_cbor() -> None:
    """Encoded by hand as RFC 8949 says: array(1), map(3), 0: text, 1: "Cel", 2: 23.1 as a double."""
    name = b"urn:dev:ow:10e2073a01080063"
    payload = b"\x81\xa3\x00\x78\x1b" + name + b"\x01\x63Cel\x02\xfb" + bytes.fromhex("403719999999999a")
    assert resolve(payload, NOW) == [Record(name.decode(), "Cel", NOW, 23.1)]


def test_a_hectopascal_is_a_hundred_pascals() -> None:
    pack = json.dumps([{"n": "ambient-pressure", "u": "hPa", "v": 1013.25}])
    assert read(pack, "d", NOW).readings[0].value == pytest.approx(101_325.0, rel=1e-15)


@pytest.mark.parametrize("unit", ["kPa", "bar", "psi", "mbar", "C", "F", "degC", "lb"])
def test_what_neither_registry_has_is_refused(unit: str) -> None:
    quantity = {"C": "wall-temperature", "F": "wall-temperature", "degC": "wall-temperature", "lb": "mass"}
    with pytest.raises(Refused, match="expected"):
        read(json.dumps([{"n": quantity.get(unit, "gauge-pressure"), "u": unit, "v": 1}]), "d", NOW)
