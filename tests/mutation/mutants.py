"""Small wrongs in a module, one at a time: a limit moved to its edge, a sign turned, a reason left out.

Words are left alone: what a sentence says is no rule.
"""

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_EDGE = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_OPPOSITE = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_OTHER_SIGN = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
_OTHER_CALL = {"min": "max", "max": "min", "any": "all", "all": "any"}
Change = Callable[[ast.AST], ast.AST | None]


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one wrong in it: where, what was changed into what, the tree; whether it is in a function."""

    line: int
    change: str
    tree: ast.Module
    in_function: bool

    def __str__(self) -> str:
        return f"{self.line}: {self.change}"


def mutants(source: str) -> Iterator[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    original = ast.parse(source)
    places = [(number, node) for number, node in enumerate(ast.walk(original)) if _counts(node)]
    skipped = {id(inner) for node in ast.walk(original) for inner in _inside_words(node)}
    in_functions = {id(inner) for node in ast.walk(original) for inner in _in_body(node)}
    for number, node in sorted(places, key=lambda place: place[1].lineno):  # type: ignore[attr-defined]
        if id(node) in skipped:
            continue
        for change in _changes(node):
            tree = copy.deepcopy(original)
            target = next(one for index, one in enumerate(ast.walk(tree)) if index == number)
            before = ast.unparse(target)
            after = change(target)
            if after is None:
                continue
            tree = ast.fix_missing_locations(_Replaced(target, after).visit(tree))
            told = f"{_short(before)}  ->  {_short(ast.unparse(after))}"
            yield Mutant(node.lineno, told, tree, id(node) in in_functions)  # type: ignore[attr-defined]


def _in_body(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        for statement in node.body:
            yield from ast.walk(statement)


class _Replaced(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self._old, self._new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self._old:
            return ast.copy_location(self._new, node)
        self.generic_visit(node)
        return node


def _counts(node: ast.AST) -> bool:
    return isinstance(node, ast.expr | ast.stmt)


def _inside_words(node: ast.AST) -> Iterator[ast.AST]:
    """What only decides how something is written or typed: annotations, formatted text, decorators, refusals."""
    words: list[ast.AST | None] = []
    match node:
        case ast.JoinedStr():
            words = [node]
        case ast.AnnAssign() | ast.arg():
            words = [node.annotation]
        case ast.FunctionDef():
            words = [node.returns, *node.decorator_list]
        case ast.ClassDef():
            words = [*node.decorator_list]
        case ast.Raise():
            words = [node.exc]
    for one in words:
        yield from ast.walk(one) if one is not None else ()


def _changes(node: ast.AST) -> list[Change]:
    return (
        _of_operators(node)
        if isinstance(node, ast.Compare | ast.BoolOp | ast.BinOp | ast.UnaryOp)
        else _of_rest(node)
    )


def _of_operators(node: ast.expr) -> list[Change]:
    match node:
        case ast.Compare():
            return [
                _comparison(place, table) for place in range(len(node.ops)) for table in (_EDGE, _OPPOSITE)
            ]
        case ast.BoolOp():
            return [_other_word, *(_without("values", place) for place in range(len(node.values)))]
        case ast.BinOp() if not isinstance(node.left, ast.Constant | ast.JoinedStr) or _number(node.left):
            return [_other_sign]
        case ast.UnaryOp(op=ast.Not()):
            return [lambda one: one.operand]  # type: ignore[attr-defined]
    return []


def _of_rest(node: ast.AST) -> list[Change]:
    match node:
        case ast.Constant():
            return _constants(node)
        case ast.Call(func=ast.Name(id=name)) if name in _OTHER_CALL:
            return [_other_call]
        case ast.List() | ast.Tuple() if len(node.elts) > 1 and isinstance(node.ctx, ast.Load):
            starred = (place for place, one in enumerate(node.elts) if isinstance(one, ast.Starred))
            return [_without("elts", place) for place in starred]
        case ast.If() | ast.IfExp() | ast.While() if not isinstance(node.test, ast.Compare | ast.UnaryOp):
            return [_negated("test")]
        case ast.Return(value=ast.Call(func=ast.Name(id="any" | "all"))) | ast.Return(value=ast.BoolOp()):
            return [_negated("value")]
        case ast.AugAssign() | ast.Expr(value=ast.Call()) | ast.Continue() | ast.Break():
            return [lambda _: ast.Pass()]
    return []


def _number(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def _comparison(place: int, table: dict[type[ast.cmpop], type[ast.cmpop]]) -> Change:
    def change(node: ast.AST) -> ast.AST | None:
        new = copy.deepcopy(node)
        assert isinstance(new, ast.Compare)
        other = table.get(type(new.ops[place]))
        if other is None:
            return None
        new.ops[place] = other()
        return new

    return change


def _without(field: str, place: int) -> Change:
    def change(node: ast.AST) -> ast.AST:
        new = copy.deepcopy(node)
        parts = getattr(new, field)
        del parts[place]
        return parts[0] if isinstance(new, ast.BoolOp) and len(parts) == 1 else new

    return change


def _negated(field: str) -> Change:
    def change(node: ast.AST) -> ast.AST:
        new = copy.deepcopy(node)
        setattr(new, field, ast.UnaryOp(ast.Not(), getattr(new, field)))
        return new

    return change


def _other_word(node: ast.AST) -> ast.AST:
    new = copy.deepcopy(node)
    assert isinstance(new, ast.BoolOp)
    new.op = ast.Or() if isinstance(new.op, ast.And) else ast.And()
    return new


def _other_sign(node: ast.AST) -> ast.AST | None:
    new = copy.deepcopy(node)
    assert isinstance(new, ast.BinOp)
    other = _OTHER_SIGN.get(type(new.op))
    if other is None:
        return None
    new.op = other()
    return new


def _other_call(node: ast.AST) -> ast.AST:
    new = copy.deepcopy(node)
    assert isinstance(new, ast.Call) and isinstance(new.func, ast.Name)
    new.func.id = _OTHER_CALL[new.func.id]
    return new


def _constants(node: ast.Constant) -> list[Change]:
    value = node.value
    if isinstance(value, bool):
        return [lambda _: ast.Constant(not value)]
    if isinstance(value, int):
        return [lambda _: ast.Constant(value + 1)]
    if isinstance(value, float):
        return [lambda _: ast.Constant(value * 1.02 if value else 0.01)]
    return []


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 70 else f"{line[:67]}..."
