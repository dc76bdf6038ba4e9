"""Modules and functions stay as short as people can follow."""

from tests.docs.source import ROOT, Definition, definitions, modules

LONGEST_MODULE = 400
LONGEST_FUNCTION = 40


def test_no_module_has_grown_to_where_it_should_have_been_split():
    lengths = {path.relative_to(ROOT).as_posix(): len(path.read_text().splitlines()) for path in modules()}
    assert len(lengths) > 100, "the walk found the project"
    assert {name: length for name, length in lengths.items() if length >= LONGEST_MODULE} == {}


def test_no_function_is_longer_than_a_screen():
    found = list(definitions())
    assert len(found) > 500, "the walk found the project"
    assert {one.name: one.code_lines for one in found if one.code_lines >= LONGEST_FUNCTION} == {}


def test_a_long_function_would_be_seen():
    import ast

    body = "\n".join(f"    x = {number}" for number in range(LONGEST_FUNCTION))
    node = ast.parse(f'def f():\n    """Doc\n\n    more."""\n{body}\n').body[0]
    assert Definition("f", node).code_lines == LONGEST_FUNCTION + 1
