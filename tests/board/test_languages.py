"""The board in another language: the catalog is whole, and a page has no English left in it."""

import re

import pytest
from jinja2 import Environment

from service.board import phrases as phrases_of_board
from service.board.languages.catalog import PLACE, Catalog
from service.board.languages.environment import ENGLISH, LANGUAGES, catalog
from service.board.languages.marking import marked
from tests.board.conftest import Visitor
from tests.support import msgids

TAG = re.compile(r"</?\w+>")
OTHERS = [language for language in LANGUAGES if language != ENGLISH]
# Function words that no Spanish sentence has; a refrigerant, a unit or a clause of a law has none of them either.
ENGLISH_WORDS = re.compile(
    r"\b(?:the|of|and|with|not|this|that|from|was|were|its|it|by|on|out|what|which|there|until|has|have|been|are|is|to)\b",
    re.IGNORECASE,
)


@pytest.fixture(scope="module")
def phrases() -> dict[str, list[str]]:
    return msgids.phrases()


@pytest.mark.parametrize("language", OTHERS)
def test_every_phrase_is_said_with_the_same_places_and_elements(
    language: str, phrases: dict[str, list[str]]
) -> None:
    said = msgids.said(msgids.LANGUAGE_FILES / f"{language}.po")
    assert {msgid for msgid in phrases if not said.get(msgid)} == set()
    assert {msgid for msgid in said if msgid not in phrases} == set(), "no longer in the program"
    for msgid, text in said.items():
        assert sorted(PLACE.findall(text)) == sorted(PLACE.findall(msgid)), msgid
        assert sorted(TAG.findall(text)) == sorted(TAG.findall(msgid)), msgid


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_recognized_as_the_phrase_it_was_written_from(
    language: str, phrases: dict[str, list[str]]
) -> None:
    spoken = catalog(language)
    for msgid, where in phrases.items():
        names = PLACE.findall(msgid)
        if names and not all(one.startswith("templates/") for one in where):
            text = msgid.format(**{name: f"{k}{k}.5" for k, name in enumerate(names)})
            found = spoken.recognized(text)
            assert found is not None, msgid
            assert found[0].format(**found[1]) == text
            expected = spoken.phrase(msgid).format(**{name: f"{k}{k}.5" for k, name in enumerate(names)})
            assert spoken.sentence(text) == expected, (msgid, found[0])


def test_a_person_reads_the_board_in_the_chosen_language_and_others_do_not(technician_at: Visitor) -> None:
    assert 'lang="en"' in technician_at.get("/rack").text
    technician_at.send("/settings", units="inch-pound", theme="auto", language="es")
    technician_at.send("/register", serial="HM-7", owner="Nothing is recorded.")
    page = technician_at.get("/cylinders/HM-7").text
    assert 'lang="es"' in page
    assert "Nadie sabe qué contiene" in page
    assert "Nobody knows" not in page
    # What a person typed goes back as it was typed.
    assert 'value="Nothing is recorded."' in technician_at.get("/cylinders/HM-7/marks").text


def test_before_signing_in_the_browser_says_which_language(visitor: Visitor) -> None:
    assert "Contraseña" in visitor.get("/sign-in", **{"Accept-Language": "es-MX,es;q=0.9,en;q=0.5"}).text
    assert "Password" in visitor.get("/sign-in", **{"Accept-Language": "fr"}).text
    assert "Password" in visitor.get("/sign-in").text


def test_the_scripts_say_nothing_that_is_not_in_the_catalog() -> None:
    static = msgids.SERVICE / "board" / "static"
    said = {
        text
        for name in ("board.js", "offline.js", "last_known.js")
        for call in re.findall(
            r'say\((.*?)(?:\)[)\];, ]|(?<="), \{|\)$)', (static / name).read_text(encoding="utf-8"), re.M
        )
        for text in re.findall(r'"([^"]*)"', call)
    }
    assert said == set(phrases_of_board.SCRIPTED)


@pytest.mark.parametrize("language", OTHERS)
def test_every_template_is_sound_in_every_language(language: str) -> None:
    for path in sorted((msgids.SERVICE / "board" / "templates").rglob("*.html")):
        Environment().parse(marked(path.read_text(encoding="utf-8"), catalog(language)))


def test_text_links_and_what_a_person_wrote() -> None:
    spoken = Catalog(
        {"Not known: {names}. <a>Enter it</a>": "No se sabe: {names}. <a>Escribirlo</a>", "Note": "Nota"}
    )
    source = '<p>Not known: {{ page.names }}. <a href="{{ url }}">Enter it</a></p><b>{{ one.note | own }}</b>'
    said = marked(source, spoken)
    assert said == (
        '<p>No se sabe: {{ told((page.names)) }}. <a href="{{ url }}">Escribirlo</a></p><b>{{ one.note | own }}</b>'
    )
    assert marked('<i class="stamp">{{ serial }}</i> <input value="{{ typed }}" title="Note">', spoken) == (
        '<i class="stamp">{{ serial }}</i> <input value="{{ typed }}" title="Nota">'
    )


def test_what_is_not_known_stays_english() -> None:
    spoken = Catalog(
        {
            "{serial} is {what}": "{serial}: {what}",
            "empty": "vacío",
            "Leak": "Fuga",
            "{mass} missing": "faltan {mass}",
        }
    )
    assert spoken.sentence("HM-1 is empty") == "HM-1: vacío"
    assert spoken.sentence("the motor of HM-1 is burnt") == "the motor of HM-1 is burnt"
    assert spoken.sentence("Leak: 2.1 lb missing") == "Fuga: faltan 2.1 lb"
