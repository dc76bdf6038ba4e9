"""
Every text of a template is a phrase: whoever writes a page writes plain HTML and marks nothing.

Before a template is compiled for another language, its runs of text are replaced: text, the expressions and the inline
elements in it are one phrase, up to the next block element, statement or dot between facts. Expressions that stand in
text are said by ``told``; attributes that carry code are left alone, so nothing that is sent back is ever translated.
What a person wrote is left alone too: in an element of class ``stamp``, in ``pre``, or behind the filters of ``OWN``.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from service.board.languages.catalog import Catalog

CODE = r"\{\{.*?\}\}|\{%.*?%\}"
TOKEN = re.compile(
    rf"(\{{#.*?#\}}|{CODE}|<!--.*?-->|</?[a-zA-Z!](?:{CODE}|[^<>{{]|\{{(?![{{%]))*>| · )", re.DOTALL
)
READ_OUT = "aria-label|alt|title|placeholder|data-title"
SPOKEN = re.compile(rf'( (?:{READ_OUT})=")((?:{CODE}|[^"{{])*)(")', re.DOTALL)
INLINE = ("a", "b", "code", "em", "i", "span", "strong")
SILENT = ("pre", "script", "style", "textarea")
DOT = " · "
OWN = re.compile(r"\|\s*(?:own|actor|place)\s*$")
GLYPH = re.compile(r"\{\{\s*glyph\(")
LETTERS = re.compile(r"[^\W\d_]{2,}")
NAME = re.compile(r"[A-Za-z_]\w*")


@dataclass(frozen=True, slots=True)
class Run:
    """A phrase in a template, what stands in its places, and its inline tags as they are written there."""

    msgid: str
    places: dict[str, str]
    tags: dict[str, list[str]]

    def said(self, catalog: Catalog) -> str:
        """Write it in a language, as the source of a template."""
        waiting = {name: list(written) for name, written in self.tags.items()}
        text = re.sub(r"</?\w+>", lambda tag: waiting[tag[0]].pop(0), catalog.phrase(self.msgid))
        return re.sub(r"\{(\w+)\}", lambda place: self.places[place[1]], text)


def tag_of(token: str) -> str:
    """Give the name of a tag, with ``/`` when it closes; empty for what is no tag."""
    found = re.match(r"<(/?\w+)", token)
    return found[1].lower() if found else ""


def told(token: str) -> str:
    """Have an expression said in the reader's language; what a person wrote is left alone."""
    found = re.fullmatch(r"(\{\{-?)(.*?)(-?\}\})", token, re.DOTALL)
    if found is None or OWN.search(found[2].strip()):
        return token
    return f"{found[1]} told(({found[2].strip()})) {found[3]}"


def name_of(token: str, taken: dict[str, str]) -> str:
    """Name a place by its expression: what is called, else the last name before any filter."""
    inside = re.sub(r'"[^"]*"|\'[^\']*\'', "", token.strip("{}- ").partition("|")[0])
    called = re.match(r"\s*([\w.]+)\(", inside)
    names = NAME.findall(called[1] if called else re.split(r" (?:or|if) ", inside)[0])
    name = next((one for one in reversed(names) if one not in ("isoformat", "format")), "text")
    number = 2
    while name in taken:
        name, number = f"{name.rstrip('0123456789')}{number}", number + 1
    return name


class Pieces:
    """A template's source in pieces: what is copied, and runs of text."""

    def __init__(self, source: str) -> None:
        self.tokens = [token for token in TOKEN.split(source) if token]

    def __iter__(self) -> Iterator["str | Run"]:
        run: list[str] = []
        silent: str | None = None
        for token in self.tokens:
            name = tag_of(token)
            if silent:
                yield token
                silent = None if name == f"/{silent}" else silent
            elif name in SILENT or (name not in INLINE and 'class="stamp' in token):
                yield from pieces_of(run)
                yield from tag(token)
                run, silent = [], name
            elif token[:2] in ("{%", "{#", "<!") or token == DOT or GLYPH.match(token) or _is_block(name):
                yield from pieces_of(run)
                yield from tag(token)
                run = []
            else:
                run.append(token)
        yield from pieces_of(run)


def _is_block(name: str) -> bool:
    return bool(name) and name.strip("/") not in INLINE


def tag(token: str) -> Iterator["str | Run"]:
    """Part a tag around the attributes that are read out."""
    rest = token
    while tag_of(token) and (found := SPOKEN.search(rest)):
        yield rest[: found.start()] + found[1]
        yield from text_of(TOKEN.split(found[2]))
        yield found[3]
        rest = rest[found.end() :]
    yield rest


def balanced(run: list[str]) -> list[list[str]]:
    """Part a run at the tags whose other end is not in it."""
    opened: list[int] = []
    lonely: list[int] = []
    for k, token in enumerate(run):
        name = tag_of(token)
        if not name.startswith("/"):
            opened += [k] if name else []
        elif opened and tag_of(run[opened[-1]]) == name[1:]:
            opened.pop()
        else:
            lonely.append(k)
    cuts = sorted(lonely + opened)
    starts, ends = [0, *(k + 1 for k in cuts)], [*cuts, len(run)]
    parts = [
        part for start, end in zip(starts, ends, strict=True) for part in (run[start:end], run[end : end + 1])
    ]
    return [part for part in parts if part]


def elements(run: list[str]) -> list[list[str]]:
    """Part a balanced run into its outermost elements and what is between them."""
    parts: list[list[str]] = [[]]
    depth = 0
    for token in run:
        name = tag_of(token)
        if name and not name.startswith("/"):
            if not depth:
                parts.append([])
            depth += 1
        parts[-1].append(token)
        if name.startswith("/"):
            depth -= 1
            if not depth:
                parts.append([])
    return [part for part in parts if part]


def pieces_of(run: list[str]) -> Iterator["str | Run"]:
    """Make phrases of a run, whose lonely tags part it."""
    for part in balanced(run):
        if len(part) == 1 and tag_of(part[0]):
            yield from tag(part[0])
        else:
            yield from phrases_of(part)


def phrases_of(run: list[str]) -> Iterator["str | Run"]:
    """Make one phrase of a balanced run that has words between its elements; else one of each element."""
    parts = elements(run)
    if any(not tag_of(part[0]) and LETTERS.search(_plain(part)) for part in parts):
        yield from text_of(run)
        return
    for part in parts:
        if not tag_of(part[0]):
            yield from text_of(part)
            continue
        yield from tag(part[0])
        yield from part[1:-1] if "stamp" in part[0] else phrases_of(part[1:-1])
        yield part[-1]


def _plain(tokens: list[str]) -> str:
    return "".join(token for token in tokens if not token.startswith("{{"))


def text_of(tokens: list[str]) -> Iterator["str | Run"]:
    """Make a phrase of text, expressions and inline elements; without words, its expressions are said alone."""
    if not LETTERS.search("".join(t for t in tokens if not t.startswith("{{") and not tag_of(t))):
        yield "".join(told(token) if token.startswith("{{") else token for token in tokens)
        return
    places: dict[str, str] = {}
    tags: dict[str, list[str]] = {}
    text, stamped = "", False
    for token in tokens:
        name = tag_of(token)
        if name:
            stamped = "stamp" in token
            text += f"<{name}>"
            tags.setdefault(f"<{name}>", []).append(token)
        elif token.startswith("{{"):
            place = name_of(token, places)
            places[place] = token if stamped else told(token)
            text += f"{{{place}}}"
        else:
            text += re.sub(r"\s+", " ", token)
    inside = text.strip()
    yield text[: len(text) - len(text.lstrip())]
    yield Run(inside, places, tags)
    yield text[len(text.rstrip()) :]


def marked(source: str, catalog: Catalog) -> str:
    """Write the source of a template again in the language of a catalog."""
    return "".join(piece.said(catalog) if isinstance(piece, Run) else piece for piece in Pieces(source))


def phrases_in(source: str) -> list[str]:
    """Give the phrases of a template's text, in order."""
    return [piece.msgid for piece in Pieces(source) if isinstance(piece, Run)]
