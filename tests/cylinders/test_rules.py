import pytest

from service.cylinders import rules
from service.cylinders.books import BOOKS

EVERY = [*rules.ALL.items(), *(item for book in BOOKS.values() for item in book.rules.items())]


@pytest.mark.parametrize(("code", "rule"), EVERY)
def test_every_rule_says_where_it_stands_and_how_it_is_known(code, rule):
    assert rule.code == code and rule.citation and rule.edition and rule.text.endswith(".")
    assert rule.mark in {"read", "memory", "inferred", "computed", "practice"}
    if rule.mark == "memory":
        assert "memory" in rule.edition or "mark in the catalogue" in rule.edition, code


def test_there_are_enough_rules_to_be_all():
    assert len(rules.ALL) > 40 and set(BOOKS) == {"us", "eu", "ca", "au"}


@pytest.mark.parametrize("book", BOOKS.values(), ids=BOOKS)
def test_no_law_lets_a_supervisor_decide_what_another_leaves_to_none(book):
    for code, rule in book.rules.items():
        if code in rules.ALL and not rules.ALL[code].may_override:
            assert not rule.may_override, code


def test_a_book_that_is_not_complete_names_what_is_missing_and_what_to_consult():
    assert not BOOKS["us"].missing and list(BOOKS["eu"].missing) == ["recovery"]
    for code in ("ca", "au"):
        assert all("not read" in why for why in BOOKS[code].missing.values())
