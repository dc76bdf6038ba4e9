"""Australia, as far as its law could be read: code and standards could not."""

from service.cylinders.books.book import RuleBook
from service.cylinders.books.rule import MEMORY, table

_AS = "the Australian Dangerous Goods Code and AS 2030 were not read"
# fmt: off
RULES = table(
    ("new-owner-only-reclaimed", "Ozone Protection and Synthetic Greenhouse Gas Management Regulations 1995", MEMORY,
     "memory", "Recovered refrigerant goes back through licensed people; it is never released."),
)
"""What was found of the law, each with clause, edition and mark."""
# fmt: on
BOOK = RuleBook(
    code="au",
    name="Australia",
    rules=RULES,
    admits=frozenset({"DOT", "ISO"}),
    missing={
        "filling": f"{_AS}: ask the filler or the standard for the limit",
        "requalification": f"{_AS}: state the date until which it may be filled",
        "shipping": f"{_AS}: let whoever is trained write the document",
        "records": "the regulations of 1995 on ozone protection were not read",
        "recovery": "the Refrigerant Handling Code of Practice (parts 1 and 2) was not read",
        "carriage": f"{_AS}",
    },
    stamp_order="month-first",
    shipping=None,
)  # fmt: skip
"""The law of Australia, with what is missing of it."""
