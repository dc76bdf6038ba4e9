import pytest

from service.board import wording


@pytest.mark.parametrize("identity", ["identified", "narrowed", "unrecognised"])
@pytest.mark.parametrize("finding", list(wording.CONTAMINATION))
@pytest.mark.parametrize("contents", ["two-phase", "vapour-only", "liquid-full"])
def test_a_verdict_is_one_sentence_and_never_says_pure(identity: str, finding: str, contents: str) -> None:
    said = wording.sentence(identity, ["R-22", "R-407C"], "97 %", finding, contents)
    assert "pure" not in said.casefold()
    assert said.endswith(".")
    assert ". " not in said


def test_liquid_full_is_a_danger_whatever_else_is_found() -> None:
    assert wording.sentence("identified", ["R-22"], "99 %", "none-detected", "liquid-full").startswith(
        "Danger"
    )


def test_a_long_list_is_cut_and_counted() -> None:
    names = [f"R-{k}" for k in range(9)]
    assert "one of 5 more" in wording.sentence("narrowed", names, "", "undecided", "two-phase")


def test_listing() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["a"]) == "a"
    assert wording.listed(["a", "b", "c"]) == "a, b or c"


def test_an_actor_is_named_without_its_kind() -> None:
    assert wording.actor("person:sam") == "sam"
    assert wording.actor("worker") == "worker"
