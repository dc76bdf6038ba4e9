"""Canada, as far as its law could be read: the standards that the regulations point to could not."""

from service.cylinders.books.book import RuleBook
from service.cylinders.books.rule import MEMORY, table

_CSA = "the Transportation of Dangerous Goods Regulations point to CSA B340 and B339, which were not read"
# fmt: off
RULES = table(
    ("non-refillable", "TDG Regulations part 5; TC-39M", MEMORY, "memory",
     "A non-refillable cylinder (TC-39M, NRC) is never refilled."),
    ("new-owner-only-reclaimed", "Federal Halocarbon Regulations, 2022", MEMORY, "memory",
     "Recovered halocarbons are kept, reused or destroyed by the regulations; they are never released."),
)
"""What was found of the law, each with clause, edition and mark."""
# fmt: on
BOOK = RuleBook(
    code="ca",
    name="Canada",
    rules=RULES,
    admits=frozenset({"DOT", "ISO"}),
    missing={
        "filling": f"{_CSA}: ask the filler or the standard for the limit",
        "requalification": f"{_CSA}: state the date until which it may be filled",
        "shipping": "part 3 of the TDG Regulations was not read: let whoever is trained write the document",
        "records": "the Federal Halocarbon Regulations, 2022 were not read",
        "recovery": "the Refrigerant Code of Practice and the Federal Halocarbon Regulations, 2022 were not read",
        "carriage": "the exemptions of part 1 of the TDG Regulations were not read",
    },
    shipping=None,
)  # fmt: skip
"""The law of Canada, with what is missing of it."""
