"""What the pure packages say of their constants and functions: nobody has to ask for a unit, a shape or a source.

The rule, which a machine can hold:

- a constant (a name in capitals at the top of a module) has a string below it. Where the value has a number with a
  point in it, the string or the name has the unit, and the string says where the number is from in one of the words
  of `ORIGIN`. A private one without any number is left out (patterns, texts, tables of functions), and so is one that
  is a `Rule`, which carries its clause, edition and mark itself;
- settings (a frozen dataclass with numbers as defaults) say where these are from, likewise;
- a public class with such fields says their units (in the name, or in brackets once for all) and the shapes of arrays;
- a public function that takes or gives floating-point numbers has each one's unit, in its name or in brackets;
- one that takes or gives arrays has their shape: ``ndarray[n, k]``, or ``[n, k]`` for short;
- one that raises names each error.
"""

import ast
import re
from collections.abc import Iterator

from tests.docs.source import ROOT, Function, modules
from tests.docs.test_docstrings import UNIT_IN_NAME, signature

PURE = ("service/refrigerants", "service/verdict", "service/cylinders", "ingest/estimator")
CONSTANT = re.compile(r"_?[A-Z][A-Z0-9_]+")
ORIGIN = re.compile(
    r"\b(read|memory|computed|measured|simulat\w+|inferred|fit(ted)?|estimated|(a|our) choice|choices|judgements?|"
    r"practice|definition|exact(ly)?|CFR|RFC|ADR|ASHRAE|AHRI|SAE|ASTM|ISO|NIST|CODATA|(19|20)\d\d)\b"
)
ARRAY = re.compile(r"\b(Floats|Singles|Bools|NDArray)\b")
NUMBER = re.compile(r"\b(float|Floats|Singles|NDArray(?!\[np\.(?:intp|bool_)\]))\b")
OWN_UNIT = re.compile(r"(?:'s|its) unit\b")
BRACKET = re.compile(r"\[([^\]]+)\]")
AXIS = re.compile(r"\.\.\.|\d+|[a-z][a-z0-9_ ]*|[A-Z][A-Z_]+")
UNITS_LIKE_AN_AXIS = re.compile(r"s|h|d|g|m|m2|m3|kg|lb|bit|nat|mol|rad|psi|psig|ppm|min|any")


def constants(tree: ast.Module) -> Iterator[tuple[str, ast.expr, str]]:
    """Name, value and explanation of each constant at the top of a module; the explanation may be empty."""
    for node, below in zip(tree.body, [*tree.body[1:], None], strict=True):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for name in (
                one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name)
            ):
                if CONSTANT.fullmatch(name):
                    yield name, node.value, _string(below)


def _string(node: ast.stmt | None) -> str:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return " ".join(str(node.value.value).split())
    return ""


def is_shape(bracket: str) -> bool:
    """Whether what stands in brackets is the axes of an array."""
    axes = bracket.split(", ")
    return all(AXIS.fullmatch(axis) for axis in axes) and not UNITS_LIKE_AN_AXIS.fullmatch(bracket)


def has_unit(told: str) -> bool:
    """Whether a unit stands in brackets, or it is said whose unit it is."""
    return bool(OWN_UNIT.search(told)) or any(not is_shape(one) for one in BRACKET.findall(told))


def has_shape(told: str) -> bool:
    """Whether an array is described with its shape."""
    return "ndarray" in told or any(is_shape(one) for one in BRACKET.findall(told))


def missing_of_constant(name: str, value: ast.expr, told: str) -> list[str]:
    """What is not said of a constant."""
    if is_rule(value):
        return []
    numbers = {type(one.value) for one in ast.walk(value) if isinstance(one, ast.Constant)} & {int, float}
    if not told:
        return ["explanation"] if numbers or not name.startswith("_") else []
    has_number = float in numbers
    missing = []
    if has_number and not UNIT_IN_NAME.search(name.lower()) and not has_unit(told):
        missing.append("unit")
    if has_number and not ORIGIN.search(told):
        missing.append("origin")
    return missing


def is_rule(value: ast.expr) -> bool:
    """Whether a value is a rule, which says its clause, edition and mark itself."""
    return ast.unparse(value).startswith(("Rule(", "us.RULES["))


def functions(tree: ast.Module) -> Iterator[Function]:
    """Public functions of a module, and public methods and properties of its public classes."""
    for node in tree.body:
        inside = node.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_") else [node]
        yield from (one for one in inside if isinstance(one, Function) and not one.name.startswith("_"))


def missing_of_function(node: Function) -> list[str]:
    """What is not said of a function."""
    told = ast.get_docstring(node) or ""
    missing = [] if told else ["docstring"]
    given = {**signature(node), f"{node.name} (what it returns)": node.returns}
    for name, annotation in given.items():
        kind = "" if annotation is None else ast.unparse(annotation)
        if NUMBER.search(kind) and not UNIT_IN_NAME.search(name.split()[0]) and not has_unit(told):
            missing.append(f"unit of {name}")
        if ARRAY.search(kind) and not has_shape(told):
            missing.append(f"shape of {name}")
    return missing + [f"error {name}" for name in raised(node) if name not in told]


def raised(node: ast.AST) -> set[str]:
    """Names of the errors that a function raises itself; one that it hands on is not its own."""
    found = set()
    for one in ast.iter_child_nodes(node):
        if isinstance(one, ast.Raise) and one.exc is not None:
            error = one.exc.func if isinstance(one.exc, ast.Call) else one.exc
            found.add(ast.unparse(error))
        if not isinstance(one, Function):
            found |= raised(one)
    return found


def missing_of_class(node: ast.ClassDef) -> list[str]:
    """What is not said of a class's fields."""
    told = " ".join([ast.get_docstring(node) or "", *map(_string, node.body)])
    missing = set()
    for one in node.body:
        if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name) and one.target.id[0] != "_":
            kind = ast.unparse(one.annotation)
            if NUMBER.search(kind) and not UNIT_IN_NAME.search(one.target.id) and not has_unit(told):
                missing.add("units")
            if ARRAY.search(kind) and not has_shape(told):
                missing.add("shapes")
    return sorted(missing)


def silent_settings(tree: ast.Module) -> Iterator[str]:
    """Frozen dataclasses whose defaults have numbers, 0 and 1 aside, and that say nothing of their origin."""
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and any(
            "frozen=True" in ast.unparse(one) for one in node.decorator_list
        ):
            defaults = [
                one.value for one in node.body if isinstance(one, ast.AnnAssign) and one.value is not None
            ]
            told = " ".join([ast.get_docstring(node) or "", *map(_string, node.body)])
            if any(_numbers(one) - {0.0, 1.0} for one in defaults) and not ORIGIN.search(told):
                yield node.name


def _numbers(value: ast.expr) -> set[float]:
    literals = [one.value for one in ast.walk(value) if isinstance(one, ast.Constant)]
    return {one for one in literals if isinstance(one, float)}


def trees() -> Iterator[tuple[str, ast.Module]]:
    for path in modules(*PURE):
        yield path.relative_to(ROOT).as_posix(), ast.parse(path.read_text(encoding="utf-8"))


def test_every_constant_says_what_it_is_and_where_it_is_from() -> None:
    found = {f"{where} {one[0]}": one for where, tree in trees() for one in constants(tree)}
    assert len(found) > 400, "the walk found the constants"
    assert {where: gaps for where, one in found.items() if (gaps := missing_of_constant(*one))} == {}


def test_settings_say_where_they_are_from() -> None:
    assert [f"{where} {name}" for where, tree in trees() for name in silent_settings(tree)] == []


def test_every_public_class_says_units_and_shapes() -> None:
    found = {
        f"{where} {node.name}": node
        for where, tree in trees()
        for node in tree.body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    }
    assert len(found) > 150, "the walk found the classes"
    assert {where: gaps for where, node in found.items() if (gaps := missing_of_class(node))} == {}


def test_every_public_function_says_units_shapes_and_errors() -> None:
    found = {
        f"{where}:{node.lineno} {node.name}": node for where, tree in trees() for node in functions(tree)
    }
    assert len(found) > 400, "the walk found the functions"
    assert {where: gaps for where, node in found.items() if (gaps := missing_of_function(node))} == {}


def test_a_gap_would_be_seen() -> None:
    """One of each kind, which the walk over the packages would have to find."""
    source = '''
LONG_K = 3.0
"""How long (a choice)."""
SHARE = 0.5
"""Of the whole."""
MASS = 0.5
_LEAST = 2
TEXT = "x"
_TEXT = "x"
RULE = Rule("code", 1.0)
def f(temp_k: Floats, other: float) -> Floats:
    """Of [K]."""
    raise ValueError
def g(temp_k: float, mass: float) -> float:
    """Do."""
def _h(x: float) -> float: ...
'''
    tree = ast.parse(source)
    assert {name: missing_of_constant(name, value, told) for name, value, told in constants(tree)} == {
        "LONG_K": [],
        "SHARE": ["unit", "origin"],
        "MASS": ["explanation"],
        "_LEAST": ["explanation"],
        "TEXT": ["explanation"],
        "_TEXT": [],
        "RULE": [],
    }
    assert {node.name: missing_of_function(node) for node in functions(tree)} == {
        "f": ["shape of temp_k", "shape of f (what it returns)", "error ValueError"],
        "g": ["unit of mass", "unit of g (what it returns)"],
    }
