"""A docstring's parameters are the signature's, and a number there says its unit."""

import ast
import re
from collections.abc import Iterator

from tests.docs.source import Definition, Function, definitions, modules

SECTION = re.compile(r"^(Parameters|Other Parameters)\n-+\n(.*?)(?=^\S[^\n]*\n-+\n|\Z)", re.M | re.S)
ENTRY = re.compile(r"^(\*{0,2}\w[\w, *]*?)(?: *: .*)?$")
UNIT_IN_NAME = re.compile(
    r"_(k|c|f|pa|kpa|psi|kg|lb|g|m|m2|m3|s|h|d|j|w|v|mol|ppm|percent|fraction|share|ratio|bits|hours|days|bytes)(_|$)"
)


def documented(docstring: str) -> dict[str, str]:
    """Names in the Parameters section and what is said of each."""
    entries: dict[str, str] = {}
    for _, section in SECTION.findall(docstring):
        names: list[str] = []
        for line in section.splitlines():
            if line and not line.startswith(" ") and (entry := ENTRY.match(line)):
                names = [name.strip() for name in entry[1].split(",")]
                entries.update(dict.fromkeys(names, line))
            else:
                for name in names:
                    entries[name] += "\n" + line
    return entries


def signature(node: Function) -> dict[str, ast.expr | None]:
    """Names and annotations of a function's parameters, `self` and `cls` left out."""
    arguments = node.args
    every = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    found = {one.arg: one.annotation for one in every if one.arg not in ("self", "cls")}
    for prefix, one in (("*", arguments.vararg), ("**", arguments.kwarg)):
        if one is not None:
            found[f"{prefix}{one.arg}"] = one.annotation
    return found


def with_parameters() -> Iterator[tuple[Definition, dict[str, str]]]:
    for one in definitions("service", "ingest", "demo", "deploy"):
        entries = documented(ast.get_docstring(one.node) or "")
        if entries:
            yield one, entries


def test_documented_parameters_are_those_of_the_signature():
    found = list(with_parameters())
    assert len(found) > 50, "the walk found the project"
    wrong = {}
    for one, entries in found:
        names = {name.lstrip("*") for name in signature(one.node)}
        told = {name.lstrip("*") for name in entries}
        if names != told:
            wrong[one.name] = {"missing": sorted(names - told), "unknown": sorted(told - names)}
    assert wrong == {}


def test_a_number_in_a_docstring_says_its_unit():
    wrong = []
    for one, entries in with_parameters():
        for name, annotation in signature(one.node).items():
            text = entries.get(name, entries.get(name.lstrip("*"), ""))
            if annotation is not None and "float" in ast.unparse(annotation) and not has_unit(name, text):
                wrong.append(f"{one.name}: {name}")
    assert wrong == []


def has_unit(name: str, text: str) -> bool:
    return "[" in text or UNIT_IN_NAME.search(name) is not None


def test_every_public_module_says_what_it_is_for():
    silent = [
        str(path)
        for path in modules("service", "ingest", "demo")
        if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert silent == []


def test_a_disagreement_would_be_seen():
    sections = "temp_k, other : float\n    Warmth, [K].\nrest\n    More.\n\nReturns\n-------\nint\n    x"
    docstring = f"Do.\n\nParameters\n----------\n{sections}"
    assert documented(docstring) == {
        "temp_k": "temp_k, other : float\n    Warmth, [K].",
        "other": "temp_k, other : float\n    Warmth, [K].",
        "rest": "rest\n    More.\n",
    }
    node = ast.parse("def f(self, temp_k: float, *, rest: float, **more): pass").body[0]
    assert list(signature(node)) == ["temp_k", "rest", "**more"]
    assert has_unit("temp_k", "") and has_unit("x", "[-]") and not has_unit("rest", "More.")
