from service.board import phrases


def test_listing() -> None:
    assert phrases.listed([]) == ""
    assert phrases.listed(["a"]) == "a"
    assert phrases.listed(["a", "b", "c"]) == "a, b or c"


def test_an_actor_is_named_without_its_kind() -> None:
    assert phrases.actor("person:sam") == "sam"
    assert phrases.actor("worker") == "worker"


def test_a_cause_keeps_the_letters_of_a_designation_and_says_hold_once() -> None:
    assert phrases.cause("air", "R-134a with air: take it off") == "Air in it: R-134a with air: take it off"
    assert phrases.cause("stale", "No reading since noon") == "No readings: no reading since noon"
    assert phrases.cause("advice-hold", "Hold: could be R-22") == "Hold advised: could be R-22"
