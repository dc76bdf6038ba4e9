"""Messages against the PyPI package `cloudevents` as an independent receiver."""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from cloudevents.core.bindings.http import HTTPMessage, from_http
from hypothesis import given
from hypothesis import strategies as st

from service.outbound.cloudevents import CloudEvent, ContentMode, message, message_id

JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=10,
)
TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)


def event(subject: str = "cylinders/HM-1", data: object = None) -> CloudEvent:
    return CloudEvent(
        "evt_42",
        "https://heelmark.example/organisations/home",
        "heelmark.verdict.reached",
        datetime(2026, 5, 4, 3, 2, 1, 123000, UTC),
        {"value": data},
        subject,
        "42",
    )


@pytest.mark.parametrize("mode", [ContentMode.BINARY, ContentMode.STRUCTURED])
@given(subject=TEXT, data=JSON_VALUES)
def test_independent_receiver_reads_back_every_attribute(
    mode: ContentMode, subject: str, data: object
) -> None:
    sent = event(subject, data)
    headers, body = message([sent], mode)
    got = from_http(HTTPMessage(headers=headers, body=body), _json())
    assert (got.get_id(), got.get_source(), got.get_type()) == (sent.id, sent.source, sent.type)
    assert (got.get_specversion(), got.get_subject(), got.get_time()) == ("1.0", subject, sent.time)
    assert got.get_extension("sequence") == "42"
    payload = got.get_data()
    assert (payload if isinstance(payload, dict) else json.loads(payload)) == {"value": data}


def _json():
    from cloudevents.core.formats.json import JSONFormat

    return JSONFormat()


def test_binary_mode_has_no_data_content_type_header() -> None:
    headers, _ = message([event()], ContentMode.BINARY)
    assert headers["Content-Type"] == "application/json"
    assert "ce-datacontenttype" not in headers


def test_structured_mode_announces_itself() -> None:
    headers, body = message([event()], ContentMode.STRUCTURED)
    assert headers["Content-Type"].startswith("application/cloudevents+json")
    assert json.loads(body)["specversion"] == "1.0"


def test_headers_are_plain_ascii_whatever_the_subject() -> None:
    headers, _ = message([event('Zylinder "ß"\n%')], ContentMode.BINARY)
    assert headers["ce-subject"].isascii()
    assert not set(headers["ce-subject"]) & set(' "\n')


def test_a_number_that_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="Out of range"):
        message([event(data=float("nan"))], ContentMode.BINARY)


def test_an_independent_receiver_reads_each_event_of_a_batch() -> None:
    sent = [replace(event(data=number), id=f"evt_{number}", sequence=str(number)) for number in range(3)]
    headers, body = message(sent, ContentMode.BATCHED)
    assert headers["Content-Type"].startswith("application/cloudevents-batch+json")
    structured = {"Content-Type": "application/cloudevents+json"}
    got = [from_http(HTTPMessage(structured, json.dumps(one).encode()), _json()) for one in json.loads(body)]
    assert [one.get_id() for one in got] == ["evt_0", "evt_1", "evt_2"]
    assert [one.get_data() for one in got] == [{"value": 0}, {"value": 1}, {"value": 2}]


def test_only_a_batch_carries_several_and_no_more_than_it_may() -> None:
    for mode, count in ((ContentMode.BINARY, 2), (ContentMode.STRUCTURED, 2), (ContentMode.BATCHED, 51)):
        with pytest.raises(ValueError, match=f"{count} events"):
            message([event()] * count, mode)
    with pytest.raises(ValueError, match="0 events"):
        message([], ContentMode.BATCHED)
    assert len(json.loads(message([event()] * 50, ContentMode.BATCHED)[1])) == 50


def test_a_message_of_several_is_known_by_the_first_and_the_last() -> None:
    assert message_id([event()]) == "evt_42"
    assert message_id([event(), replace(event(), id="evt_43")]) == "evt_42-evt_43"
