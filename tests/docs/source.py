"""The project's own modules and functions, parsed."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("service", "ingest", "demo", "deploy", "tests")
GENERATED = ("service/store/migrations/versions",)
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Definition:
    """A function with the name that a person would look for."""

    name: str
    node: Function

    @property
    def code_lines(self) -> int:
        """Lines from `def` to the end, without the docstring, which is demanded elsewhere."""
        first = self.node.body[0]
        is_documented = ast.get_docstring(self.node, clean=False) is not None
        documented = first.end_lineno - first.lineno + 1 if is_documented else 0
        return self.node.end_lineno - self.node.lineno + 1 - documented


def modules(*packages: str) -> Iterator[Path]:
    """Every module under the packages, those that Alembic generated left out."""
    for package in packages or PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            if not path.relative_to(ROOT).as_posix().startswith(GENERATED):
                yield path


def definitions(*packages: str) -> Iterator[Definition]:
    """Every function and method of the packages."""
    for path in modules(*packages):
        module = path.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, Function):
                yield Definition(f"{module}:{node.lineno} {node.name}", node)
