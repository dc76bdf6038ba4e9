"""One mutant against tests, in a process that is forked from one in which everything but the project is loaded."""

import importlib
import importlib.util
import os
import resource
import sys
import tempfile
from collections.abc import Mapping, Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

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
            put_in_place(module, mutant)
        os._exit(0 if all(pytest.main([*OPTIONS, *stage]) in {0, NO_TESTS} for stage in stages) else 1)
    finally:
        os._exit(1)  # never back into the parent's loop


def put_in_place(module: Path, mutant: Mutant) -> None:
    """Give the loaded functions the mutant's code; load the project again where the wrong is outside of functions."""
    loaded = sys.modules.get(module_name(module))
    if mutant.in_function and loaded is not None:
        fresh = ModuleType(loaded.__name__)
        fresh.__dict__.update(__file__=str(module), __package__=loaded.__package__)
        sys.modules[loaded.__name__] = fresh  # dataclasses look their module up
        exec(compile(mutant.tree, str(module), "exec"), fresh.__dict__)
        sys.modules[loaded.__name__] = loaded
        _give_code(vars(loaded), vars(fresh), loaded.__name__)
        return
    for name in [name for name in sys.modules if name.split(".")[0] in OWN - {"__main__"}]:
        if not name.startswith("tests.mutation"):
            del sys.modules[name]
    sys.meta_path.insert(0, Replacement(module, mutant))  # type: ignore[arg-type]


def _give_code(old: Mapping[str, Any], new: Mapping[str, Any], module: str) -> None:
    for name, one in old.items():
        other = new.get(name)
        if isinstance(one, type) and isinstance(other, type) and one.__module__ == module:
            _give_code(vars(one), vars(other), module)
            continue
        mine, its = _function(one), _function(other)
        if mine is None or its is None or mine.__module__ != module:
            continue
        if mine.__code__.co_freevars == its.__code__.co_freevars:
            mine.__code__ = its.__code__


def _function(one: object) -> FunctionType | None:
    """The plain function inside a method, a property or something that remembers."""
    for inside in ("fget", "func", "__func__", "__wrapped__"):
        one = getattr(one, inside, one) if not isinstance(one, FunctionType) else one
    return one if isinstance(one, FunctionType) else None


def load(stages: Sequence[Stage]) -> None:
    """Import here what the tests import, so that a child starts with it."""
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
        if not name.startswith(("_pytest", "tests.", "conftest")) or name.startswith("tests.support"):
            try:
                importlib.import_module(name)
            except Exception:  # a name that only its own package can import
                continue


def _silence() -> None:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
