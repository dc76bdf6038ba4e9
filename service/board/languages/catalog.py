"""
One catalog of phrases: an English phrase is its own key, another language is one ``.po`` file beside this module.

Rules, verdicts and stored alarms are English sentences with figures in them; nothing below the board knows of
languages. A sentence is recognized here by the phrase that it was written from, ``{mass} of {refrigerant}``, and said
again in the other language with its figures. What is not recognized stays as it is: nothing is guessed.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from babel.messages.pofile import read_po

PLACE = re.compile(r"\{(\w+)\}")
WORD = re.compile(r"[^\W\d_]{2,}")
SEPARATORS = (". ", "; ", ": ", ", ", " or ", " and ")
JOINERS = {" or ": "{first} or {last}", " and ": "{first} and {last}"}
KEPT = 20_000
TEMPLATES = "templates/"  # where a phrase stands that is compiled and never recognized
# A phrase of few fixed letters (``{first} or {last}``) would fit by chance anywhere in a long sentence.
SLIGHT, SHORT = 8, 60


@dataclass(frozen=True, slots=True)
class Pattern:
    """A phrase with places: what recognizes it, its places in order, and how much of it is fixed text."""

    msgid: str
    regex: re.Pattern[str]
    names: tuple[str, ...]
    weight: int


def pattern_of(msgid: str) -> Pattern:
    """Give what recognizes a sentence that was written from a phrase; its first letter may be of either case."""
    parts = PLACE.split(msgid)
    fixed, names = parts[0::2], tuple(parts[1::2])
    written = [re.escape(text) for text in fixed]
    if fixed[0][:1].isalpha():
        written[0] = f"[{fixed[0][0].lower()}{fixed[0][0].upper()}]{re.escape(fixed[0][1:])}"
    return Pattern(msgid, re.compile("(.*?)".join(written), re.DOTALL), names, sum(map(len, fixed)))


def like(model: str, text: str) -> str:
    """Give a text the case of the first letter of a model."""
    if not (model[:1].isalpha() and text[:1].isalpha()):
        return text
    return (text[0].upper() if model[0].isupper() else text[0].lower()) + text[1:]


def _words(msgid: str) -> list[str]:
    """Whole words of the fixed text, which every sentence written from it has."""
    return [
        found[0].lower()
        for text in [PLACE.sub("\x00", msgid)]
        for found in WORD.finditer(text)
        if text[found.start() - 1 : found.start()] != "\x00" and text[found.end() : found.end() + 1] != "\x00"
    ]


class Catalog:
    """Phrases of another language by their English."""

    def __init__(self, phrases: Mapping[str, str], compiled: Collection[str] = ()) -> None:
        self._phrases = dict(phrases)
        self._folded = {like("a", msgid): said for msgid, said in phrases.items() if not PLACE.search(msgid)}
        self._by_word: dict[str, list[Pattern]] = defaultdict(list)
        self._wordless: list[Pattern] = []
        how_many: dict[str, int] = defaultdict(int)
        with_places = [msgid for msgid in phrases if PLACE.search(msgid) and msgid not in compiled]
        for msgid in with_places:
            for word in set(_words(msgid)):
                how_many[word] += 1
        for msgid in with_places:
            rare = min(_words(msgid), key=lambda word: how_many[word], default=None)
            (self._wordless if rare is None else self._by_word[rare]).append(pattern_of(msgid))
        self.sentence = lru_cache(KEPT)(self._sentence)

    def phrase(self, msgid: str) -> str:
        """Say a phrase with its places left open; English where there is none."""
        return self._phrases.get(msgid) or msgid

    def _sentence(self, text: str) -> str:
        """Say a sentence that was written from phrases; what is not recognized stays as it is."""
        found = self._known(text)
        return text if found is None else found

    def recognized(self, text: str) -> tuple[str, dict[str, str]] | None:
        """Give the phrase that a sentence was written from, and what stands in its places."""
        candidates = list(self._wordless)
        for word in {found[0].lower() for found in WORD.finditer(text)}:
            candidates += self._by_word.get(word, ())
        for one in sorted(candidates, key=lambda pattern: -pattern.weight):
            if one.weight < SLIGHT and len(text) > SHORT:
                continue
            if match := one.regex.fullmatch(text):
                return one.msgid, dict(zip(one.names, match.groups(), strict=True))
        return None

    def _known(self, text: str) -> str | None:
        if not WORD.search(text):
            return None
        if said := self._phrases.get(text):
            return said
        if said := self._folded.get(like("a", text)):
            return like(text, said)
        if (found := self.recognized(text)) is not None and not self._is_titled(*found):
            msgid, places = found
            said = self.phrase(msgid).format(**{name: self.sentence(value) for name, value in places.items()})
            return like(text, said) if msgid[:1].isalpha() and msgid[0] != text[0] else said
        return self._in_parts(text)

    def _is_titled(self, msgid: str, places: Mapping[str, str]) -> bool:
        """Whether what stands in the first place begins with a title of its own: ``Leak: 2 lb missing``."""
        found = PLACE.match(msgid)
        title, colon, _ = places[found[1]].partition(": ") if found else ("", "", "")
        return bool(colon) and like("a", title) in self._folded

    def _in_parts(self, text: str) -> str | None:
        """Say one part after the other: sentences, and what is listed."""
        if text.endswith(".") and (said := self._known(text[:-1])) is not None:
            return f"{said}."
        for separator in SEPARATORS:
            first, found, last = text.partition(separator)
            if found:
                said, rest = self._known(first), self._known(last)
                if said is not None or rest is not None:
                    pair = {"first": first if said is None else said, "last": last if rest is None else rest}
                    return self.phrase(JOINERS.get(separator, f"{{first}}{separator}{{last}}")).format(**pair)
        return None


def read(language: str) -> Catalog:
    """Read the catalog of a language; phrases whose translation is empty or in doubt (fuzzy) are left out."""
    with (files("service.board.languages") / f"{language}.po").open("rb") as file:
        found = read_po(file, locale=language)
    known = [one for one in found if one.id and one.string and not one.fuzzy]
    compiled = {
        str(one.id) for one in known if all(where.startswith(TEMPLATES) for where, _ in one.locations)
    }
    return Catalog({str(one.id): str(one.string) for one in known}, compiled)
