"""The handbook's table of settings is the settings: each one that is read, and none that is not."""

import ast
import re

from tests.docs.source import ROOT

SOURCES = (
    "service/settings.py",
    "service/logs.py",
    "ingest/runtime/settings.py",
    "deploy/up/settings.py",
    "deploy/environment.sh",
)
NAME = re.compile(r"^[A-Z][A-Z0-9_]+$")


def read_by(source: str) -> set[str]:
    """Names without the prefix that a module reads from the environment."""
    text = (ROOT / source).read_text(encoding="utf-8")
    if source.endswith(".sh"):
        return set(re.findall(r"\$\{HEELMARK_([A-Z_]+)", text))
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and not _is_prefix(node):
            names = [arg.value for arg in node.args[:2] if isinstance(arg, ast.Constant)]
            found |= {name.removeprefix("HEELMARK_") for name in names if _is_setting(name)}
    return found


def _is_setting(value: object) -> bool:
    return isinstance(value, str) and NAME.match(value) is not None


def _is_prefix(node: ast.Call) -> bool:
    return isinstance(node.func, ast.Attribute) and node.func.attr == "prefixed"


def in_the_table() -> set[str]:
    page = (ROOT / "service" / "handbook" / "settings.md").read_text(encoding="utf-8")
    return set(re.findall(r"^\| `HEELMARK_([A-Z0-9_]+)`", page, re.M))


def test_the_table_is_the_settings():
    read = set().union(*(read_by(source) for source in SOURCES))
    read -= {f"{name}_FILE" for name in read}
    assert len(read) > 20, "the walk found the settings"
    assert in_the_table() == read


def test_a_setting_without_a_row_would_be_seen():
    assert "HTTP_PORT" in read_by("service/settings.py")
    assert "HTTP_PORT" in read_by("deploy/up/settings.py")
    assert "WORKER_TOKEN" in read_by("ingest/runtime/settings.py")
    assert "PYTHON" in read_by("deploy/environment.sh")
