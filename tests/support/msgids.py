"""
The phrases of the program, read from its source: ``python -m tests.support.msgids`` adds new ones to every catalog.

A template's text is a phrase (``service/board/languages/marking.py``); so is every string of the modules below that
reads as words, an f-string with its expressions as named places.
"""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment, nodes

from service.board.languages.environment import ENGLISH, LANGUAGES
from service.board.languages.marking import phrases_in
from service.board.quantities import MINUS, SPACE

SERVICE = Path(__file__).parents[2] / "service"
LANGUAGE_FILES = SERVICE / "board" / "languages"
# Packages whose sentences reach the board.
SPOKEN = ("board", "cylinders", "mappings", "verdict", "operations", "paperwork/records_gaps.py")
# Those of their modules whose strings no page shows: what only programs and operators of the service read.
UNSPOKEN = tuple(Path(__file__).with_name("unspoken.txt").read_text(encoding="utf-8").split())
# Strings that look like words and are codes.
NO_WORDS = ("Cel", "auto", "level-{glyph}", "look", "may", "needing", "no", "wrong")
OF_POLICY = re.compile(r"[a-z]+-src '")
# Codes that pages show as words.
CODES = (
    "checks",
    "is of no mapping",
    "gauge {value}",
    "wall {value}",
    "scale {value}",
    "battery {value}",
    "barometer {value}",
    "air {value}",
    "absolute {value}",
    "annualized",
    "rolling",
    "repair",
    "verification initial",
    "verification follow up",
    "leak inspection",
    "other",
    "Canada",
    "nobody",
    "microns",
    "opened",
    "sealed",
    "acceptance",
    "rejection",
    "credit",
    "Place changed",
    "Reclaimer changed",
    "Appliance changed",
    "Custody changed",
    "Recovery changed",
    "Organisation changed",
    "Instrument checked",
    "Token changed",
    "Person changed",
    "Price changed",
    "Webhook changed",
    "Device-credential changed",
    "Identity changed",
    "Mapping changed",
    "Cylinder state",
    "Advice released",
    "Inspection passed",
    "Inspection failed",
    "Requalification passed",
    "Requalification failed",
    "Observation",
    "Evacuation",
    "Inspection",
    "everything",
    "transfers",
    "alarms",
    "could be {name}, and these readings cannot tell.",
    "contamination of {clean} is not ruled out.",
    "there is no liquid in it, and the readings do not tell what it is.",
    "the readings fit no refrigerant in the catalog.",
    "Not as materials of trade",
    "Alarm",
    "Alarm over",
    "Alarm seen",
    "{designation} is class {safety_class}",
    "{designation} has no known class and is taken for flammable",
    "read",
    "inferred",
    "computed",
    "from memory",
    "{designation} with air",
    "{designation} with another refrigerant",
    "{designation} with its composition shifted",
    "once",
    "twice",
    "{times} times",
    "space",
    "entry",
    "entries",
    "verdict",
    "verdicts",
    "cylinder",
    "cylinders",
    "complete",
    "again",
    "first",
    "next",
    "off",
    "low",
    "high",
    "more",
    "less",
    "now",
    "nothing",
    "any",
    "Put in",
    "Taken out",
    "all",
    "empty",
    "rated",
    "marked",
    "scrapped",
    "condemned",
    "handed over",
    "evacuated",
    "settled",
    "OVERFULL",
    "overfull",
    "administrator",
    "attention",
    "category",
    "danger",
    "failed",
    "liquid",
    "notice",
    "passed",
    "shop",
    "site",
    "supervisor",
    "technician",
    "van",
    "vapour",
    "vapor",
    "not known",
    "unknown",
    "Keep",
    "Hold",
    "Air",
    "Nothing",
    "{first} or {last}",
    "{first} and {last}",
    "nothing was given",
    "commercial refrigeration",
    "industrial process refrigeration",
    "comfort cooling",
    "weight",
    "reading",
    "inspection",
    "observation",
    "evacuation",
    "requalification",
)
KNOWN = {"SPACE": SPACE, "MINUS": MINUS}
SENTENCE = re.compile(r"(?=.*[^\W\d_]{2,})(?=.* ).*", re.DOTALL)
WORD = re.compile(r"[A-Z][a-z]+(?:-[a-z]+)*")
LOG = re.compile(r"\blog\.(?:debug|info|warning|error|exception)$")
CITATION = r"^\d+ CFR (?:[\d.]+[a-z]?(?:\([\da-zA-Z]+\))*(?:; )?)+$"
HEADERS = r"^#[0-9a-f]+$|image/|^no-(?:cache|store)$|^standalone$|^Accept$|^Lax$|public, max|text/csv|filename=|camera="
SCRIPT = (
    r"event: changed|per 5 minutes|^M[\d{]|^(?:SELECT|application/|[\w.]+@|/)|default-src|;[a-z-]+=|%[YHMdS]"
)
CODE = re.compile(rf"{CITATION}|{HEADERS}|{SCRIPT}|[<>{{}}\[\]\\^$]|\\b|_\w+_")


def _name(node: ast.expr, taken: dict[str, str]) -> str:
    """Name a place by what is called, else by the last name of the expression."""
    match node:
        case ast.Call(
            func=ast.Attribute(attr="isoformat" | "format" | "lower" | "upper" | "strip", value=inner)
        ):
            return _name(inner, taken)
        case ast.Call(func=ast.Attribute(attr=name)) | ast.Attribute(attr=name):
            found = name
        case ast.Call(func=ast.Name(id=name)) | ast.Name(id=name):
            found = name
        case ast.Subscript(slice=ast.Constant(value=str(name))):
            found = name
        case ast.Subscript(value=inner) | ast.BinOp(left=inner) | ast.UnaryOp(operand=inner):
            return _name(inner, taken)
        case ast.IfExp(body=inner) if not isinstance(inner, ast.Constant):
            return _name(inner, taken)
        case _:
            found = "text"
    found = re.sub(r"\W", "_", found).strip("_") or "text"
    number, name = 2, found
    while name in taken:
        name, number = f"{found}{number}", number + 1
    return name


def msgid_of(node: ast.expr) -> str:
    """Give the phrase of a string: its text, with a named place for each expression."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    assert isinstance(node, ast.JoinedStr)
    text, taken = "", {}
    for value in node.values:
        if isinstance(value, ast.Constant):
            text += value.value
        elif isinstance(value, ast.FormattedValue):
            inner = value.value
            if isinstance(inner, ast.Name) and inner.id in KNOWN:
                text += KNOWN[inner.id]
                continue
            name = _name(inner, taken)
            taken[name] = ast.unparse(inner)
            text += f"{{{name}}}"
    return text


def whole(msgid: str) -> str:
    """Give a phrase as it is looked up: places named, without what joins it to the part before it."""
    numbers = iter(("text", "text2", "text3", "text4"))
    return re.sub(r"\{\}", lambda _: f"{{{next(numbers)}}}", msgid).lstrip(",;:. ").strip()


class Strings(ast.NodeVisitor):
    """Strings of a module that read as words; not docstrings, log events or keys."""

    def __init__(self, *, with_words: bool) -> None:
        self.found: list[str] = []
        self.with_words = with_words

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_Dict(self, node: ast.Dict) -> None:
        for value in node.values if self.with_words else ():
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                self._take(value.value, inside="_" not in value.value)
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        if not LOG.search(ast.unparse(node.func)) and ast.unparse(node.func) not in (
            "re.compile",
            "text",
            "sa.text",
        ):
            self.generic_visit(node)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self._take(msgid_of(node))
        for value in node.values:
            if isinstance(value, ast.FormattedValue):
                for branch in ast.walk(value.value):
                    if isinstance(branch, ast.IfExp):
                        for end in (branch.body, branch.orelse):
                            if isinstance(end, ast.Constant) and isinstance(end.value, str):
                                self._take(end.value, inside=True)
                self.visit(value.value)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str):
            self._take(node.value)

    def _take(self, msgid: str, *, inside: bool = False) -> None:
        msgid = whole(msgid)
        bare = re.sub(r"\{\w+\}", "\0", msgid)
        if CODE.search(bare):
            return
        words = SENTENCE.fullmatch(bare) or (inside and re.search(r"[^\W\d_]{2,}", bare))
        if words or (self.with_words and WORD.fullmatch(bare)):
            self.found.append(msgid)


def _modules() -> Iterator[Path]:
    for name in SPOKEN:
        path = SERVICE / name
        for module in [path] if path.suffix else sorted(path.rglob("*.py")):
            if not any(str(module.relative_to(SERVICE)).startswith(one) for one in UNSPOKEN):
                yield module


def phrases() -> dict[str, list[str]]:
    """Give every phrase with where it stands."""
    found: dict[str, list[str]] = {}
    for template in sorted((SERVICE / "board" / "templates").rglob("*.html")):
        for msgid in phrases_in(template.read_text(encoding="utf-8")):
            found.setdefault(msgid, []).append(f"templates/{template.name}")
    for template in sorted((SERVICE / "board" / "templates").rglob("*.html")):
        for msgid in constants_of(template.read_text(encoding="utf-8")):
            found.setdefault(msgid, []).append(f"expressions/{template.name}")
    for msgid in CODES:
        found.setdefault(msgid, []).append("codes")
    for module in _modules():
        strings = Strings(with_words=module.relative_to(SERVICE).parts[0] == "board")
        strings.visit(ast.parse(module.read_text(encoding="utf-8")))
        for msgid in strings.found:
            found.setdefault(msgid, []).append(str(module.relative_to(SERVICE)))
    return {
        msgid: where for msgid, where in found.items() if msgid not in NO_WORDS and not OF_POLICY.match(msgid)
    }


def _of_concat(node: nodes.Concat) -> str:
    """Give the phrase of strings and expressions that are joined with ``~``."""
    taken: dict[str, str] = {}
    text = ""
    for part in node.nodes:
        if isinstance(part, nodes.Const):
            text += str(part.value)
        else:
            name = (
                part.attr
                if isinstance(part, nodes.Getattr)
                else part.name
                if isinstance(part, nodes.Name)
                else "text"
            )
            name = name if name not in taken else f"{name}{len(taken) + 1}"
            taken[name] = name
            text += f"{{{name}}}"
    return text


def constants_of(source: str) -> Iterator[str]:
    """Give the words that stand as strings in a template's expressions: labels, hints, options."""
    tree = Environment().parse(source)
    joined = list(tree.find_all(nodes.Concat))
    inside = {id(const) for one in joined for const in one.find_all(nodes.Const)}
    options = {id(one.items[1]) for one in tree.find_all(nodes.Tuple) if len(one.items) == 2}
    for one in joined:
        yield from [_of_concat(one).strip()] if SENTENCE.fullmatch(_of_concat(one)) else []
    for const in tree.find_all(nodes.Const):
        text = const.value
        if (
            not isinstance(text, str)
            or id(const) in inside
            or re.search(r"level-|\.html|class=|board\.|%\.|[{}]", text)
        ):
            continue
        if (
            SENTENCE.fullmatch(text)
            or WORD.fullmatch(text)
            or (id(const) in options and re.search("[a-z]{2}", text))
        ):
            yield text.strip()


HEADER = """\
# The board in Spanish, as spoken in the refrigeration trade of the United States and Mexico.
# Written by those who made the board; no native technician has gone through it yet. Cautions are said literally.
# Left in English on purpose: refrigerants, units, serials, clauses of laws, and what a label must say by law.
# Add what is new with: python -m tests.support.msgids
msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""


def update(path: Path, known: dict[str, str]) -> Catalog:
    """Write a catalog again with every phrase of the program; what is known keeps its translation."""
    catalog = Catalog(locale=path.stem)
    for msgid, where in phrases().items():
        catalog.add(msgid, known.get(msgid, ""), locations=[(one, 0) for one in dict.fromkeys(where)])
    with path.open("wb") as file:
        file.write(HEADER.format(language=path.stem).encode())
        write_po(file, catalog, width=120, omit_header=True, include_lineno=False)
    return catalog


def said(path: Path) -> dict[str, str]:
    """Read what a catalog says for each phrase."""
    with path.open("rb") as file:
        return {str(one.id): str(one.string) for one in read_po(file) if one.id and one.string}


if __name__ == "__main__":
    for language in LANGUAGES:
        if language != ENGLISH:
            file = LANGUAGE_FILES / f"{language}.po"
            left = [str(one.id) for one in update(file, said(file)) if one.id and not one.string]
            sys.stdout.write("".join(f"{language}: {msgid}\n" for msgid in left))
