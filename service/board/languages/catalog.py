"""
One catalog of phrases: an English phrase is its own key, another language is one ``.po`` file beside this module.

Rules, verdicts and stored alarms are English sentences with figures in them; nothing below the board knows of
languages. A sentence is recognized here by the phrase that it was written from, ``{mass} of {refrigerant}``, and said
again in the other language with its figures. What is not recognized stays as it is: nothing is guessed.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from babel.messages.pofile import read_po

PLACE = re.compile(r"\{(\w+)\}")
WORD = re.compile(r"[^\W\d_]{2,}")
UNITS = "lb|kg|oz|psi|psig|kPa|bar|in|ft|min|ppm|mm|bit"
PLAIN = re.compile(rf"(?!\b(?:{UNITS})\b)\b[a-z]{{2,}}\b")
TITLE = re.compile(r"([^{}:]+): \{\w+\}")
SENTENCES = re.compile(r"[.;] ")
LONGEST = 1000
"""A longer text quotes what somebody typed, brackets in brackets perhaps: it stays as it is (a choice) [characters]."""
# What is said one part after the other: where one end of it is known, and where both must be.
LOOSE, CLOSE = ("; ", ": ", " · "), (", ", " or ", " and ")
JOINERS = {" or ": "{first} or {last}", " and ": "{first} and {last}"}
KEPT = 20_000
TEMPLATES = "templates/"  # where a phrase stands that is compiled and never recognized
# A phrase of few fixed letters (``{first} or {last}``) would fit by chance anywhere in a long sentence.
SLIGHT = 8


@dataclass(frozen=True, slots=True)
class Pattern:
    """A phrase with places: what recognizes it, its places in order, and how much of it is fixed text."""

    msgid: str
    regex: re.Pattern[str]
    names: tuple[str, ...]
    weight: int


@dataclass(frozen=True, slots=True)
class Said:
    """A text in another language: whether anything of it was known, and whether nothing was left in English."""

    text: str
    known: bool
    whole: bool


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


def cuts(text: str, separator: str) -> Iterator[tuple[str, str]]:
    """Give both ends at each place of a separator that is not in brackets."""
    at = text.find(separator)
    while at >= 0:
        if text.count("(", 0, at) == text.count(")", 0, at):
            yield text[:at], text[at + len(separator) :]
        at = text.find(separator, at + 1)


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
        for msgid, said in phrases.items():
            # ``Asked: {text}``: what is asked may be several sentences, and the title stands before the first.
            if (title := TITLE.fullmatch(msgid)) and ": " in said:
                self._folded.setdefault(like("a", title[1]), like("a", said.partition(": ")[0]))
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
        self._said = lru_cache(KEPT)(self._find)

    def phrase(self, msgid: str) -> str:
        """Say a phrase with its places left open; English where there is none."""
        return self._phrases.get(msgid) or msgid

    def _sentence(self, text: str) -> str:
        """Say a sentence that was written from phrases; what is not recognized stays as it is."""
        if len(text) > LONGEST:
            return text
        try:
            return self._said(text).text
        except RecursionError:
            return text

    def recognized(self, text: str) -> tuple[str, dict[str, str]] | None:
        """Give the phrase that a sentence was written from, and what stands in its places.

        Of several that fit, the one whose places hold nothing but what is known, names and figures; else one that
        does not reach over the end of a sentence. The more fixed text the better.
        """
        found = list(self._fitting(text))
        for one, values in found:
            if all(map(self._is_sure, values)):
                return one.msgid, dict(zip(one.names, values, strict=True))
        for one, values in found:
            if one.weight >= SLIGHT and not any(". " in value for value in values):
                return one.msgid, dict(zip(one.names, values, strict=True))
        return None

    def _fitting(self, text: str) -> Iterator[tuple[Pattern, tuple[str, ...]]]:
        candidates = list(self._wordless)
        for word in {found[0].lower() for found in WORD.finditer(text)}:
            candidates += self._by_word.get(word, ())
        several = SENTENCES.search(text)
        for one in sorted(candidates, key=lambda pattern: -pattern.weight):
            match = None if one.weight < SLIGHT and several else one.regex.fullmatch(text)
            if match and all(value.count("(") == value.count(")") for value in match.groups()):
                yield one, match.groups()

    def _is_sure(self, text: str) -> bool:
        """Whether nothing in a text is left unsaid: it is known, or a name, a number, a unit."""
        return not PLAIN.search(text) or self._said(text).whole

    def _find(self, text: str) -> Said:
        """Say a text as far as it is known, as a whole or in parts."""
        if not WORD.search(text):
            return Said(text, known=False, whole=True)
        if (said := self._phrases.get(text)) or (said := self._folded.get(like("a", text))):
            return Said(said if text in self._phrases else like(text, said), known=True, whole=True)
        match = self.recognized(text)
        inside = text[1:-1] if text[0] + text[-1] == "()" else text.strip()
        if inside != text and (match is None or match[0][0] != text[0]):
            found = self._said(inside)
            return Said(text.replace(inside, found.text), found.known, found.whole)
        if match is None:
            return self._undotted(text) or self._in_parts(text) or Said(text, False, not PLAIN.search(text))
        found = self._written(text, *match)
        parts = None if found.whole else self._in_parts(text)
        return parts if parts and parts.whole else found

    def _undotted(self, text: str) -> Said | None:
        """Say a sentence whose full stop was left out, as before a remark in brackets."""
        dotted = f"{text}."
        if said := self._phrases.get(dotted):
            return Said(said.removesuffix("."), known=True, whole=True)
        match = None if text.endswith(".") else self.recognized(dotted)
        if match is None or not match[0].endswith("."):
            return None
        found = self._written(dotted, *match)
        return Said(found.text.removesuffix("."), found.known, found.whole)

    def _written(self, text: str, msgid: str, places: Mapping[str, str]) -> Said:
        """Say a sentence by the phrase that it was written from."""
        if self._is_titled(text, msgid, places):
            title, _, rest = text.partition(": ")
            return self._joined(title, rest, "{first}: {last}")
        said = self.phrase(msgid).format(**{name: self.sentence(value) for name, value in places.items()})
        whole = all(map(self._is_sure, places.values()))
        return Said(like(text, said) if msgid[:1].isalpha() and msgid[0] != text[0] else said, True, whole)

    def _is_titled(self, text: str, msgid: str, places: Mapping[str, str]) -> bool:
        """Whether a sentence begins with a title that its phrase does not know: ``Leak: 2 lb missing``."""
        found = PLACE.search(msgid)
        if found is None:
            return False
        begin = places[found[1]] if found.start() == 0 else text
        title, colon, _ = begin.partition(": ")
        return (
            bool(colon)
            and (not found.start() or found.start() < len(title))
            and like("a", title) in self._folded
        )

    def _in_parts(self, text: str) -> Said | None:
        """Say one part after the other: sentences, what is listed, and what stands in brackets."""
        for first, last in cuts(text, ". "):
            return self._joined(f"{first}.", last, "{first} {last}")
        return self._listed(text) or self._enclosed(text)

    def _listed(self, text: str) -> Said | None:
        for separator in LOOSE:
            for first, last in cuts(text, separator):
                if (said := self._joined(first, last, f"{{first}}{separator}{{last}}")).known:
                    return said
        for separator in CLOSE:
            for first, last in cuts(text, separator):
                if self._is_sure(first) and self._is_sure(last):
                    form = self.phrase(JOINERS.get(separator, f"{{first}}{separator}{{last}}"))
                    return self._joined(first, last, form)
        return None

    def _enclosed(self, text: str) -> Said | None:
        if text.endswith("."):
            found = self._said(text[:-1])
            return Said(f"{found.text}.", found.known, found.whole)
        asides = list(cuts(text, " (")) if text.endswith(")") else []
        return self._joined(asides[-1][0], f"({asides[-1][1]}", "{first} {last}") if asides else None

    def _joined(self, first: str, last: str, form: str) -> Said:
        one, other = self._said(first), self._said(last)
        whole = self._is_sure(first) and self._is_sure(last)
        return Said(form.format(first=one.text, last=other.text), one.known or other.known, whole)


def read(language: str) -> Catalog:
    """Read the catalog of a language; phrases whose translation is empty or in doubt (fuzzy) are left out."""
    with (files("service.board.languages") / f"{language}.po").open("rb") as file:
        found = read_po(file, locale=language)
    known = [one for one in found if one.id and one.string and not one.fuzzy]
    compiled = {
        str(one.id) for one in known if all(where.startswith(TEMPLATES) for where, _ in one.locations)
    }
    return Catalog({str(one.id): str(one.string) for one in known}, compiled)
