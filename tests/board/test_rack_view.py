"""The rack: what nobody has seen comes first, the rest stands at its place."""

from dataclasses import replace

import pytest

from service.board.fill import Fill
from service.board.views.rack import Card, Filters, Need, rack

PLAIN = Card(
    key=1,
    serial="HM-1",
    url="/cylinders/HM-1",
    place="Shop",
    place_key="Shop",
    designation="R-410A",
    sure="97 %",
    contamination_code="none-detected",
    contamination="nothing else detected",
    fill=Fill(0.5, 0.8),
    fill_text="",
    retest="",
    state_code="settled",
    state="settled",
    temperature="",
    pressure="",
    seen=None,
    refrigerants=("R-410A",),
    marks="DOT-4BA400",
)
DANGER = Need("danger", "hot")
NOTICE = Need("notice", "battery low")


def made(serial: str, place: str = "Shop", *needs: Need, **fields: object) -> Card:
    return replace(PLAIN, serial=serial, place=place, place_key=place, needs=needs, **fields)  # type: ignore[arg-type]


def test_what_needs_a_person_comes_first_and_the_gravest_of_it_first() -> None:
    cards = [made("a"), made("b", "Shop", NOTICE), made("c", "Van", DANGER)]
    bays = rack(cards, Filters()).bays
    assert [(bay.title, [c.serial for c in bay.cards]) for bay in bays] == [
        ("Needs attention", ["c", "b"]),
        ("Shop", ["a"]),
    ]


def test_having_been_seen_ends_nothing() -> None:
    seen = made("b", "Van", replace(DANGER, seen_by="person:sam"))
    assert [bay.title for bay in rack([seen], Filters()).bays] == ["Needs attention"]


@pytest.mark.parametrize(
    ("filters", "serials"),
    [
        (Filters(q="4ba"), ["a", "b"]),
        (Filters(q="HM-9"), []),
        (Filters(place="Van"), ["b"]),
        (Filters(refrigerant="R-410A", state="settled"), ["a", "b"]),
        (Filters(refrigerant="R-22"), []),
        (Filters(state="needs"), ["b"]),
    ],
)
def test_filters(filters: Filters, serials: list[str]) -> None:
    found = rack([made("a"), made("b", "Van", DANGER)], filters)
    assert sorted(c.serial for bay in found.bays for c in bay.cards) == serials


def test_every_cylinder_stands_in_exactly_one_bay() -> None:
    cards = [made(f"c{k}", f"place {k % 3}", *([DANGER] if k % 4 == 0 else [])) for k in range(40)]
    shown = [c.serial for bay in rack(cards, Filters()).bays for c in bay.cards]
    assert sorted(shown) == sorted(c.serial for c in cards)


def test_the_summary_counts() -> None:
    assert rack([made("a"), made("b", "Shop", DANGER)], Filters()).summary == "2 cylinders, 1 needs attention"
    assert (
        rack([made("first"), made("second")], Filters(q="first")).summary
        == "1 of 2 cylinders, none needs attention"
    )
