import ast

from tests.mutation.__main__ import EQUIVALENT, known_equivalent, stages
from tests.mutation.child import ROOT
from tests.mutation.mutants import mutants

SOURCE = '''
def left(held: float, limit: float | None, on_hold: bool) -> list[str]:
    """Nothing is left at the limit of 1."""
    if limit is None and not on_hold:
        raise ValueError(f"{held} of {limit + 1}")
    found = [*reasons(held), *others]
    if held >= limit:
        found.append("full")
    return found
'''


def changes(source: str) -> list[str]:
    return [one.change for one in mutants(source)]


def test_edges_signs_words_and_left_out_reasons_are_all_tried():
    found = changes(SOURCE)
    assert {
        "held >= limit  ->  held > limit",
        "held >= limit  ->  held < limit",
        "limit is None  ->  limit is not None",
        "not on_hold  ->  on_hold",
        "limit is None and (not on_hold)  ->  limit is None or not on_hold",
        "limit is None and (not on_hold)  ->  not on_hold",
        "found.append('full')  ->  pass",
        "[*reasons(held), *others]  ->  [*others]",
    } <= set(found)
    assert not [one for one in found if "Nothing is left" in one or "limit + 1" in one], "words are no rule"


def test_each_mutant_is_the_module_with_one_wrong_in_it():
    original = ast.unparse(ast.parse(SOURCE))
    trees = [one.tree for one in mutants(SOURCE)]
    written = [ast.unparse(tree) for tree in trees]
    assert len(set(written)) == len(written) and original not in written
    for tree in trees:
        compile(tree, "mutant", "exec")


def test_a_module_meets_its_own_tests_first():
    found = stages(ROOT / "service" / "cylinders" / "judgement" / "guard.py")
    assert found[0] == [str(ROOT / "tests" / "cylinders" / "judgement" / "test_guard.py")]
    assert found[1][0] == str(ROOT / "tests" / "cylinders" / "judgement")
    assert stages(ROOT / "ingest" / "wire" / "retry.py")[-1][0] == str(ROOT / "tests" / "ingest" / "wire")


def test_what_is_called_equivalent_is_still_a_mutant_and_says_why():
    for path, change in known_equivalent():
        assert change in changes((ROOT / path).read_text()), f"{path}: {change}"
    lines = [line for line in EQUIVALENT.read_text().splitlines() if line and not line.startswith("#")]
    assert all(why.startswith("  ") for why in lines[1::2]) and len(lines) % 2 == 0
