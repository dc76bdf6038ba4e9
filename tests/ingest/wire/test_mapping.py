"""Files of mappings are judged when the worker starts: field, value, expectation."""

import json

import pytest

from ingest.wire.mapping import BadMapping, check_names, parse

GOOD = {
    "name": "m",
    "topic": "x/{place}/{device}",
    "value": [{"quantity": "mass", "path": "kg", "unit": "kg"}],
}


def told(text: str, *, toml: bool = False) -> str:
    with pytest.raises(BadMapping) as caught:
        parse(text, toml=toml, root="heelmark")
    return str(caught.value)


def test_json_and_toml_say_the_same() -> None:
    toml = """
        [[mapping]]
        name = "m"
        topic = "x/{place}/{device}"
        [[mapping.value]]
        quantity = "mass"
        path = "kg"
        unit = "kg"
    """
    (one,), (other,) = (
        parse(toml, toml=True, root="heelmark"),
        parse(json.dumps({"mapping": [GOOD]}), toml=False, root="heelmark"),
    )
    assert (one.name, one.topic, one.values[0].unit) == (other.name, other.topic, other.values[0].unit)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"name": ""}, "mapping[0].name: '', expected text"),
        (
            {"nmae": "m"},
            "mapping[0].nmae: 'm', expected one of device, each, name, place, time, topic, value",
        ),
        ({"topic": None}, "mapping[0].topic: 'None', expected text"),
        ({"topic": "x/+/y"}, "mapping[0].topic: 'x/+/y', expected levels that are words or a {name}"),
        ({"topic": "x//y"}, "expected levels that are words or a {name}"),
        ({"topic": "x/{a}/{a}"}, "expected each {name} once"),
        (
            {"topic": "heelmark/{place}/{device}"},
            "below 'heelmark' nothing but heelmark/PLACE/readings/DEVICE",
        ),
        ({"topic": "{any}/{place}/{device}"}, "expected a first level that is a word"),
        ({"topic": "$SYS/{place}/{device}"}, "expected a first level that is a word"),
        (
            {"topic": "x/{device}"},
            "mapping[0].place: 'None', expected a path, or a level {place} in the topic",
        ),
        (
            {"topic": "x/{place}"},
            "mapping[0].device: 'topic.device', expected one of the topic's levels: place",
        ),
        ({"each": "a["}, "mapping[0].each: 'a[', expected a JMESPath expression"),
        ({"device": 7}, "mapping[0].device: '7', expected text"),
        (
            {"time": {"form": "epoch"}},
            "mapping[0].time.form: 'epoch', expected one of unix, unix-ms, rfc3339",
        ),
        ({"time": {"form": "unix"}}, "mapping[0].time.path: 'None', expected text"),
        ({"time": {"form": "arrival", "path": "t"}}, "mapping[0].time.path: 't', expected no path"),
        ({"value": []}, "mapping[0].value: '[]', expected a list with at least one value"),
        ({"value": [3]}, "mapping[0].value[0]: '3', expected a table of fields"),
        (
            {"value": [{"quantity": "pressure", "path": "p", "unit": "kPa"}]},
            "mapping[0].value[0].quantity: 'pressure', expected one of gauge-pressure, absolute-pressure",
        ),
        (
            {"value": [{"quantity": "mass", "path": "p", "unit": "[psi]"}]},
            "mapping[0].value[0].unit: '[psi]', expected one of kg, g, t, [lb_av], [oz_av]",
        ),
        ({"value": [{"quantity": "mass", "path": "p"}]}, "expected either unit or unit_path"),
        (
            {"value": [{"quantity": "mass", "path": "p", "unit": "kg", "unit_path": "u"}]},
            "expected either unit or unit_path",
        ),
    ],
)
def test_a_fault_is_told_by_field_value_and_expectation(change: dict, message: str) -> None:
    assert message in told(json.dumps({"mapping": [GOOD | change]}))


@pytest.mark.parametrize(
    ("text", "message"),
    [("{", "expected JSON"), ("[]", "expected a table"), ("{}", "expected a list with at least one mapping")],
)
def test_what_is_no_file_of_mappings(text: str, message: str) -> None:
    assert message in told(text)
    assert "expected TOML" in told("= 1", toml=True)


def test_two_mappings_of_one_name_are_refused() -> None:
    mappings = parse(json.dumps({"mapping": [GOOD, GOOD]}), toml=False, root="heelmark")
    with pytest.raises(BadMapping, match="expected a name that no other mapping has"):
        check_names(mappings)
