"""Every command that a page names is one that a fresh clone has, with the options that the page gives it."""

import ast
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.docs.source import ROOT, modules

FOLDERS = ("", "deploy", "demo", "ingest", "service", "tests")
NAMED = re.compile(r"python -m ((?:tests|demo|ingest|deploy|service)[\w.]*)([^`\n|]*)")
OPTION = re.compile(r"(?<!\S)(--[a-z][a-z-]*)")


def pages() -> list[str]:
    """Texts of every Markdown page of the project."""
    found = [*ROOT.glob("*.md")]
    for folder in FOLDERS[1:]:
        found += (ROOT / folder).rglob("*.md")
    return [path.read_text(encoding="utf-8") for path in found]


def named(texts: list[str]) -> dict[str, set[str]]:
    """Modules that the texts run, with the options that they give them; a comment gives none."""
    found: dict[str, set[str]] = {}
    for text in texts:
        for module, rest in NAMED.findall(text):
            found.setdefault(module.rstrip("."), set()).update(OPTION.findall(rest.split("#")[0]))
    return found


COMMANDS = named(pages())


def entry(module: str) -> str:
    """Source of what ``python -m`` runs."""
    spec = find_spec(f"{module}.__main__" if find_spec(module).submodule_search_locations else module)
    return Path(spec.origin).read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("module", sorted(COMMANDS))
def test_a_named_command_is_there_and_knows_its_options(module):
    source = entry(module)
    if "argparse" not in source and "click" not in source:
        assert COMMANDS[module] == set()
        assert "__main__" in source or module in ("ingest", "demo")
        return
    shown = subprocess.run(
        [sys.executable, "-m", module, "--help"], capture_output=True, text=True, timeout=120, cwd=ROOT
    )
    assert shown.returncode == 0, shown.stderr
    unknown = [option for option in COMMANDS[module] if option not in shown.stdout]
    assert unknown == []


def test_the_walk_found_the_commands():
    assert len(COMMANDS) > 10
    assert COMMANDS["tests.faults.storm"] >= {"--faults", "--hookups", "--seed"}
    assert named(["`python -m tests.x --cylinders 3 # --no`"]) == {"tests.x": {"--cylinders"}}


def test_what_benches_write_goes_into_a_folder_that_is_there():
    """A bench that writes beside `output` works for whoever ran another one before, and fails on a fresh clone."""
    paths = {path: path.read_text(encoding="utf-8") for path in modules("tests")}
    writers = [path for path, source in paths.items() if "import output" in source]
    assert len(writers) > 10, "the walk found the benches"
    wrong = []
    for path, source in paths.items():
        if path.parent.name not in ("benchmarks", "faults") or path.stem == "output":
            continue
        names = {node.id for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Name)}
        wrong += [path.name] if "OUT" in names else []
    assert wrong == []
