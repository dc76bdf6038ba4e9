"""One mutant against tests, in a process that is forked from one in which everything but the project is loaded."""

import importlib
import importlib.util
import os
import resource
import sys
import tempfile
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, ModuleType

import pytest

from tests.mutation.mutants import Mutant

ROOT = Path(__file__).parents[2]
OWN = frozenset({"service", "ingest", "tests", "demo", "deploy", "conftest", "__main__"})
OPTIONS = ("-x", "-q", "--no-header", "-p", "no:cacheprovider", "-W", "ignore", "--hypothesis-seed=0",
           "--hypothesis-profile=few")  # fmt: skip
NO_TESTS = 5
Stage = Sequence[str]


class Replacement:
    """Finds one module, and gives it another tree."""

    def __init__(self, module: Path, mutant: Mutant) -> None:
        self.name, self._path = module_name(module), module
        self._code: CodeType = compile(mutant.tree, str(module), "exec")

    def find_spec(self, name: str, path: object = None, target: object = None) -> ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self._path, loader=self)  # type: ignore[arg-type]

    def create_module(self, spec: ModuleSpec) -> ModuleType | None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(self._code, module.__dict__)


def module_name(module: Path) -> str:
    return ".".join(module.relative_to(ROOT).with_suffix("").parts)


def passes(
    stages: Sequence[Stage], cpu_s: int, module: Path | None = None, mutant: Mutant | None = None
) -> bool:
    """Whether every stage passes, within a time of the processor, with the mutant in place of its module."""
    child = os.fork()
    if child:
        return os.waitpid(child, 0)[1] == 0
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s))
        _silence()
        if module is not None and mutant is not None:
            sys.meta_path.insert(0, Replacement(module, mutant))  # type: ignore[arg-type]
        os._exit(0 if all(pytest.main([*OPTIONS, *stage]) in {0, NO_TESTS} for stage in stages) else 1)
    finally:
        os._exit(1)  # never back into the parent's loop


def load_what_is_not_ours(stages: Sequence[Stage]) -> None:
    """Import here what the tests import, but nothing of the project."""
    with tempfile.NamedTemporaryFile("r") as told:
        child = os.fork()
        if child == 0:
            _silence()
            for stage in stages:
                pytest.main([*OPTIONS, "--collect-only", *stage])
            Path(told.name).write_text("\n".join(sys.modules))
            os._exit(0)
        os.waitpid(child, 0)
        names = told.read().split()
    for name in names:
        if name.split(".")[0] not in OWN and not name.startswith("_pytest"):
            try:
                importlib.import_module(name)
            except Exception:  # a name that only its own package can import
                continue


def _silence() -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
