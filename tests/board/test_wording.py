from service.board import wording


def test_listing() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["a"]) == "a"
    assert wording.listed(["a", "b", "c"]) == "a, b or c"


def test_an_actor_is_named_without_its_kind() -> None:
    assert wording.actor("person:sam") == "sam"
    assert wording.actor("worker") == "worker"
