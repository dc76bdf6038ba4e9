"""The pages of mappings: listed, tried beside the text, kept as the next version, refused by field."""

import json
from collections.abc import Callable

import pytest

from service.mappings.toml_text import written
from service.operations import mappings
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.board.conftest import Visitor
from tests.board.test_assistant import say

TOPIC = "yard/shop/gauge-3/state"
DOCUMENT = {
    "name": "yard",
    "topic": "yard/{place}/{device}/state",
    "value": [{"quantity": "gauge-pressure", "path": "p", "unit": "[psi]"}],
}
TEXT = written(DOCUMENT)


@pytest.fixture
def supervisor_at(person: Callable[[str], Visitor]) -> Visitor:
    return person("supervisor")


def test_a_mapping_is_begun_from_a_shipped_one_and_tried_on_what_was_heard(
    supervisor_at: Visitor, services: Services, actor: Actor
) -> None:
    assert "from=flat-json" in supervisor_at.get("/mappings").text
    begun = supervisor_at.get("/mappings/new?from=flat-json").text
    assert "vans/{place}/{device}/state" in begun
    say(services, actor, TOPIC, {"p": 136.6})
    tried = supervisor_at.send("/mappings/new", text=TEXT, topic=TOPIC, message='{"p": 136.6}', step="look")
    assert "gauge pressure" in tried.text.lower() and "136.6\u202fpsi" in tried.text
    assert "gauge-3" in tried.text
    assert supervisor_at.send("/mappings/new", text=TEXT, step="save").status_code == 303
    say(services, actor, TOPIC, {"p": 136.6})
    page = supervisor_at.get("/mappings/yard").text
    assert TOPIC in page and "136.6\u202fpsi" in page, "the message heard last is tried by itself"
    assert "Look and edit" in supervisor_at.get("/mappings").text


def test_what_is_wrong_is_said_by_its_field_and_what_was_typed_stays(supervisor_at: Visitor) -> None:
    for wrong, told in (
        (TEXT.replace("[psi]", "psi"), "value[0].unit: 'psi', expected one of Pa, "),
        (TEXT.replace("[[mapping]]", "[mapping"), "expected TOML"),
        (TEXT + TEXT.replace("yard", "other"), "mapping: '2', expected one [[mapping]]"),
        ("", "Mapping: nothing was given"),
    ):
        page = supervisor_at.send("/mappings/new", text=wrong, step="save")
        assert page.status_code == 422
        text = page.text.replace("&#39;", "'").replace("&#34;", '"')
        assert told in text and wrong.strip() in text
    page = supervisor_at.send("/mappings/new", text=TEXT, topic=TOPIC, message="{", step="look").text
    assert "expected JSON" in page
    page = supervisor_at.send("/mappings/new", text=TEXT, topic=TOPIC, message='{"q": 1}', step="look").text
    assert "Nothing is read of this message" in page


def test_a_change_is_the_next_version_and_a_stale_one_is_refused(
    supervisor_at: Visitor, services: Services, actor: Actor
) -> None:
    mappings.save(services, actor, DOCUMENT)
    changed = TEXT.replace("[psi]", "kPa")
    assert supervisor_at.send("/mappings/yard", text=changed, version="1", step="save").status_code == 303
    stale = supervisor_at.send("/mappings/yard", text=TEXT, version="1", step="save")
    assert "was changed since it was read" in stale.text
    renamed = TEXT.replace('"yard"', '"other"')
    assert (
        "another name is another mapping"
        in supervisor_at.send("/mappings/yard", text=renamed, step="save").text
    )
    page = supervisor_at.get("/mappings/yard?version=1").text
    assert "Version 2" in page and "[psi]" in page
    assert supervisor_at.send("/mappings/yard", text=changed, step="withdraw").status_code == 303
    assert mappings.listed(services, actor, PageRequest()).items == []
    assert "withdrawn" in supervisor_at.get("/mappings/yard").text


def test_a_technician_looks_and_keeps_nothing(
    technician_at: Visitor, services: Services, actor: Actor
) -> None:
    mappings.save(services, actor, DOCUMENT)
    page = technician_at.get("/mappings/yard").text
    assert "Save it" not in page and "A supervisor saves it" in page
    for step in ("save", "withdraw"):
        sent = technician_at.send("/mappings/yard", text=TEXT.replace("[psi]", "bar"), version="1", step=step)
        assert sent.status_code == 403
    (kept,) = mappings.listed(services, actor, PageRequest()).items
    assert json.dumps(kept.document) == json.dumps(DOCUMENT)
