"""Whatever is sent to the board: another address answers what was done, a page says why it was not; never raw data."""

from collections.abc import Iterator
from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from flask import Flask
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from service.operations import cylinders, holds
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor

OF_THE_SCRIPT = {
    "board.take_entry": "an entry that waited on the phone: the script shows taken or refused itself",
    "board.take_readings": "readings of the phone's sensors, every few seconds",
    "board.draft_of_recovery": "what is being typed, kept while it is typed",
    "board.draft_recovery": "what is being typed, kept while it is typed",
}
"""Asked by the page's script alone, and why; no browser ever shows what they answer."""
NAMES = {"serial": "HM-1", "device": "urn:dev:x:gauge", "name": "new", "code": "overdue"}
TYPED = "typed-by-somebody"


class Forms(HTMLParser):
    """The text fields of a page's forms, by the address that each form is sent to."""

    def __init__(self, page: str, path: str) -> None:
        super().__init__()
        self.path, self.fields, self._at = path, dict[str, set[str]](), ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form" and given.get("method") == "post":
            self._at = given.get("action") or self.path
            self.fields.setdefault(self._at, set())
        kind = given.get("type", "text")
        if (
            self._at
            and tag == "input"
            and kind in ("text", "search", "tel")
            and "name" in given
            and "hidden" not in given
        ):
            self.fields[self._at].add(given["name"])

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._at = ""


def address(rule: Rule) -> str:
    built = rule.rule
    for converted in rule.arguments:
        value = quote(NAMES.get(converted, "1"))
        for written in (f"<{converted}>", f"<int:{converted}>"):
            built = built.replace(written, value)
    assert "<" not in built, built
    return built


def posts(app: Flask) -> Iterator[Rule]:
    for rule in app.url_map.iter_rules():
        if "POST" in (rule.methods or ()) and rule.endpoint.startswith("board."):
            yield rule


@pytest.fixture
def chief(person: "object", services: Services, actor: Actor) -> Visitor:
    cylinders.register(services, actor, "HM-1", {"place": "shop"})
    holds.place(services, actor, "HM-1", "smells burnt")
    return person("administrator")  # type: ignore[operator, no-any-return]


def sound(sent: TestResponse, path: str) -> None:
    assert 300 <= sent.status_code < 500, (path, sent.status_code)
    assert sent.mimetype == "text/html", (path, sent.mimetype)
    assert "<!doctype html>" in sent.text.lower(), path


def test_every_post_is_answered_by_another_address_or_by_a_page_that_says_why_not(
    app: Flask, chief: Visitor
) -> None:
    walked = 0
    for rule in posts(app):
        if rule.endpoint in (*OF_THE_SCRIPT, "board.sign_out"):
            continue
        sound(chief.send(address(rule)), rule.rule)
        walked += 1
    assert walked >= 40


def test_what_was_typed_stays_in_the_form_that_was_refused(app: Flask, chief: Visitor) -> None:
    kept = 0
    for rule in posts(app):
        if "GET" not in (rule.methods or ()) or rule.endpoint == "board.sign_in":
            continue
        path = address(rule)
        page = chief.get(path)
        if page.status_code != 200:
            continue
        for target, fields in Forms(page.text, path).fields.items():
            if target in ("/sign-out", "/settings/password"):
                continue  # no form to keep; a password is never shown again
            typed = {name: f"{TYPED}-{name}" for name in fields}
            sent = chief.send(target, **typed)
            sound(sent, target)
            if sent.status_code == 422:
                shown = [name for name, text in typed.items() if text in sent.text]
                assert sorted(shown) == sorted(fields), (target, "lost", fields - set(shown))
                kept += len(shown)
    assert kept >= 40


def test_a_forged_form_is_refused_in_a_page(app: Flask, chief: Visitor) -> None:
    for rule in posts(app):
        sent = chief.client.post(address(rule), data={"csrf": "of somebody else"})
        assert sent.status_code == 400, rule.rule
        sound(sent, rule.rule)
