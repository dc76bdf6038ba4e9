"""The list of cylinders: what needs somebody comes first, the rest stands at its place."""

from dataclasses import replace

from service.board.fill import Fill
from service.board.views.rack import Card, Filters, Need, rack
from service.operations.fleet import Listing
from service.store.fleet import Counted

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


def listing(**of: object) -> Listing:
    plain = Listing([], Counted(2, 0), ["R-22"], {"Shop": 1, "Van": 1}, 1, 1)
    return replace(plain, **of)  # type: ignore[arg-type]


def test_what_needs_a_person_comes_first_and_the_gravest_of_it_first() -> None:
    cards = [made("a"), made("b", "Shop", NOTICE), made("c", "Van", DANGER)]
    bays = rack(cards, Filters(), listing()).bays
    assert [(bay.title, [c.serial for c in bay.cards]) for bay in bays] == [
        ("Needs attention", ["c", "b"]),
        ("Shop", ["a"]),
    ]


def test_having_been_seen_ends_nothing() -> None:
    seen = made("b", "Van", replace(DANGER, seen_by="person:sam"))
    assert [bay.title for bay in rack([seen], Filters(), listing()).bays] == ["Needs attention"]


def test_every_cylinder_stands_in_exactly_one_bay() -> None:
    cards = [made(f"c{k}", f"place {k % 3}", *([DANGER] if k % 4 == 0 else [])) for k in range(40)]
    shown = [c.serial for bay in rack(cards, Filters(), listing()).bays for c in bay.cards]
    assert sorted(shown) == sorted(c.serial for c in cards)


def test_the_summary_counts_what_is_on_other_pages_too() -> None:
    many = listing(places={"Shop": 9_990, "Van": 10}, counted=Counted(10_000, 1), pages=250)
    assert rack([made("a")], Filters(), many).summary == "10,000 cylinders, 1 needs attention"
    some = listing(counted=Counted(1, 0))
    assert rack([made("first")], Filters(q="first"), some).summary == "1 of 2 cylinders, none needs attention"


def test_another_page_asks_for_the_same() -> None:
    asked = Filters(q="a&b", place="van 2")
    page = rack([], asked, listing(number=2, pages=3))
    assert (page.before, page.after) == ("?q=a%26b&place=van+2", "?q=a%26b&place=van+2&page=3")
    only = rack([], asked, listing())
    assert (only.before, only.after) == (None, None)
