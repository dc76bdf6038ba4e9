"""Every line that is logged has a stable name, and the handbook lists each with its level; nothing else is listed."""

import ast
import re
from collections.abc import Iterator

from tests.docs.source import ROOT, modules

LEVELS = {"debug", "info", "warning", "error", "exception", "critical"}
NAME = re.compile(r"[a-z]+(_[a-z]+)*\.[a-z]+(_[a-z]+)*")
ROW = re.compile(r"^\| `([a-z_.]+)` \| (\w+) \|", re.M)
HANDBOOK = ROOT / "service" / "handbook" / "operations.md"


def logged() -> Iterator[tuple[str, str, str]]:
    """Where something is logged, on which level and under which name."""
    for path in modules("service", "ingest", "deploy"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
                continue
            of = node.func.value
            if node.func.attr in LEVELS and isinstance(of, ast.Name) and of.id in ("log", "logger"):
                first = node.args[0] if node.args else None
                said = first.value if isinstance(first, ast.Constant) else "not a literal"
                level = "error" if node.func.attr == "exception" else node.func.attr
                yield f"{path.relative_to(ROOT)}:{node.lineno}", level, str(said)


def test_every_line_has_a_name() -> None:
    found = list(logged())
    assert len(found) > 40, "the walk found the project"
    assert [(where, name) for where, _, name in found if not NAME.fullmatch(name)] == []


def test_the_handbook_lists_every_name_with_its_level() -> None:
    told = set(ROW.findall(HANDBOOK.read_text(encoding="utf-8").partition("## Log events")[2]))
    assert told == {(name, level) for _, level, name in logged()}
