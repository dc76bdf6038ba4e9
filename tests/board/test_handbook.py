"""The handbook at the board: for whoever comes, complete, and within the board's policy."""

import re

import pytest

from service.board import handbook


@pytest.mark.parametrize("name", handbook.PAGES)
def test_a_page_is_read_without_signing_in(visitor, name):
    answer = visitor.get(f"/help/{name}")
    assert answer.status_code == 200
    assert "<h1 id=" in answer.text and f"<title>{handbook.page(name).title} · Heelmark" in answer.text
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert "Set-Cookie" not in answer.headers


def test_help_is_the_table_of_contents(visitor):
    text = visitor.get("/help").text
    for name in handbook.PAGES:
        assert f'href="/help/{name}"' in text


@pytest.mark.parametrize("name", handbook.PAGES)
def test_what_a_page_links_to_and_shows_is_there(visitor, name):
    html = str(handbook.page(name).html)
    for address in re.findall(r'(?:href|src)="(/[^"]*)"', html):
        path, _, fragment = address.partition("#")
        answer = visitor.get(path)
        assert answer.status_code == 200, address
        if fragment:
            assert f'id="{fragment}"' in answer.text, address
    assert not re.findall(r'(?:src|href)="(?!/help|https://|#)', html)
    assert not re.search(r"<script|<style| style=| on\w+=", html)


def test_a_picture_may_be_kept(visitor):
    answer = visitor.get("/help/pictures/rack.png")
    assert (answer.status_code, answer.mimetype) == (200, "image/png")
    assert answer.data.startswith(b"\x89PNG")
    assert "public" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("path", ["/help/no-such", "/help/pictures/no-such.png", "/help/../settings.py"])
def test_what_is_not_there_is_refused(visitor, path):
    assert visitor.get(path).status_code == 404


def test_a_link_leads_to_the_board_or_nowhere():
    assert handbook.target("rules.md#a") == "/help/rules#a"
    assert handbook.target("#a") == "#a"
    assert handbook.target("https://example.org/x") == "https://example.org/x"
    assert handbook.target("../../README.md") is None
    assert handbook.target("javascript:alert(1)") is None


def test_every_page_links_to_the_handbook(visitor):
    assert 'href="/help"' in visitor.get("/sign-in").text
