"""Templates in the reader's language: English as they are written, every other language compiled once."""

from collections.abc import Callable, MutableMapping
from functools import cache
from typing import Any

from flask.templating import Environment
from jinja2 import Template
from jinja2.ext import Extension
from markupsafe import Markup

from service.board.languages.catalog import read
from service.board.languages.marking import marked

ENGLISH = "en"
LANGUAGES = {ENGLISH: "English", "es": "Español"}
catalog = cache(read)


class Spoken(Extension):
    """Writes the source of a template in the language of its environment."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:  # noqa: ARG002
        """Say every phrase of the template."""
        assert isinstance(self.environment, LanguageEnvironment)  # noqa: S101
        language = self.environment.language
        return marked(source.replace('<html lang="en"', f'<html lang="{language}"'), catalog(language))


class LanguageEnvironment(Environment):
    """Gives a template in the language that ``reader`` names; the application sets it."""

    language = ENGLISH
    reader: Callable[[], str] = staticmethod(lambda: ENGLISH)

    def get_template(
        self,
        name: "str | Template",
        parent: str | None = None,
        globals: MutableMapping[str, Any] | None = None,
    ) -> Template:
        """Give a template; what it extends and includes is in its own language."""
        wanted = self.reader()
        if self.language == wanted or self.language != ENGLISH:
            return super().get_template(name, parent, globals)
        return self._in(wanted).get_template(name, parent, globals)

    def _in(self, language: str) -> "LanguageEnvironment":
        others: dict[str, LanguageEnvironment] = self.__dict__.setdefault("others", {})
        if language not in others:
            found = self.overlay(extensions=[Spoken])
            assert isinstance(found, LanguageEnvironment)  # noqa: S101
            found.language = language
            others[language] = found
        return others[language]


def told(text: object, language: str) -> object:
    """Say a sentence in a language; numbers, and what is markup already, are left alone."""
    if language == ENGLISH or not isinstance(text, str) or isinstance(text, Markup):
        return text
    return said(text, language)


def said(text: str, language: str) -> str:
    """Say a sentence in a language."""
    return text if language == ENGLISH else catalog(language).sentence(str(text))


def said_phrase(msgid: str, language: str) -> str:
    """Say a phrase in a language, its places left open."""
    return msgid if language == ENGLISH else catalog(language).phrase(msgid)
