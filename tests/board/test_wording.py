from service.board import wording


def test_listing() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["a"]) == "a"
    assert wording.listed(["a", "b", "c"]) == "a, b or c"


def test_an_actor_is_named_without_its_kind() -> None:
    assert wording.actor("person:sam") == "sam"
    assert wording.actor("worker") == "worker"


def test_a_cause_keeps_the_letters_of_a_designation_and_says_hold_once() -> None:
    assert wording.cause("air", "R-134a with air: take it off") == "Air in it: R-134a with air: take it off"
    assert wording.cause("stale", "No reading since noon") == "No readings: no reading since noon"
    assert wording.cause("advice-hold", "Hold: could be R-22") == "Hold advised: could be R-22"
