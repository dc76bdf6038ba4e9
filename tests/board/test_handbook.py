"""The handbook at the board: for whoever comes, complete, and within the board's policy."""

import re
from importlib.resources import files

import pytest

from service.board import handbook
from service.board.languages.environment import ENGLISH, LANGUAGES


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


def test_every_call_is_drawn_by_a_script_of_our_own(visitor):
    answer = visitor.get("/help/api")
    policy = dict(part.strip().split(" ", 1) for part in answer.headers["Content-Security-Policy"].split(";"))
    assert answer.status_code == 200 and "Set-Cookie" not in answer.headers
    assert policy["default-src"] == "'none'" and policy["script-src"] == "'self'" == policy["connect-src"]
    assert not [one for one in policy.values() if "http" in one or "*" in one], "nobody else is asked"
    addresses = re.findall(r'(?:src|href|spec-url)="([^"]*)"', answer.text)
    assert len(addresses) == 6
    for address in addresses:
        with visitor.get(address) as found:
            assert found.status_code == 200, address


def test_the_viewer_asks_nobody_else_and_says_whose_it_is():
    static = files("service.board") / "static"
    script = (static / "redoc-2.5.4.js").read_text(encoding="utf-8")
    assert len(script) > 1_000_000 and "cdn." not in script
    told = (static / "redoc-2.5.4.LICENSE.txt").read_text(encoding="utf-8")
    assert "redoc 2.5.4" in told and "The MIT License" in told


def test_the_handbook_leads_to_every_call(visitor):
    assert 'href="/help/api"' in visitor.get("/help/interface").text


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != ENGLISH])
@pytest.mark.parametrize("name", handbook.TRANSLATED)
def test_a_page_is_told_in_every_language_with_the_same_pictures_and_links(name, language):
    english, other = (str(handbook.page(name, one).html) for one in (ENGLISH, language))
    assert other != english
    for shown in (r'src="([^"]*)"', r'href="([^"]*)"'):
        assert sorted(re.findall(shown, other)) == sorted(re.findall(shown, english))
    assert other.count("<li>") == english.count("<li>")
    assert other.count("<tr>") == english.count("<tr>")


@pytest.mark.parametrize("name", handbook.TASKS)
def test_what_can_hurt_is_said_before_the_first_heading_of_a_task(name):
    beginning = str(handbook.page(name).html).split("<h2")[0]
    assert "<li>" in beginning


def test_a_page_that_is_english_alone_says_so(technician_at):
    assert "in English only" not in technician_at.get("/help/settings").text
    technician_at.send("/settings", units="inch-pound", theme="auto", language="es")
    assert "solo está en inglés" in technician_at.get("/help/settings").text
    task = technician_at.get("/help/leak").text
    assert "Abra todas las puertas y salga" in task
    assert "solo está en inglés" not in task


def test_whoever_smells_it_is_one_tap_from_what_to_do(visitor, technician_at):
    for page in (visitor.get("/sign-in"), technician_at.get("/rack"), visitor.get("/help/rules")):
        assert 'class="leak" href="/help/leak"' in page.text
