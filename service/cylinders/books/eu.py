"""The rules of Europe: ADR/RID (transport), Regulation (EU) 2024/573 (fluorinated gases), EN 378 (rooms)."""

from service.cylinders.books.book import RuleBook
from service.cylinders.books.rule import ADR_2025, MEMORY, Rule, table

# Code, clause, edition, how the clause is known, the rule in a sentence, whether a supervisor may decide otherwise.
# fmt: off
RULES = table(
    ("non-refillable", "ADR/RID 4.1.6.11, 6.2.2.7", "clause numbers from memory; " + MEMORY, "memory",
     "A non-refillable receptacle is never refilled."),
    ("marks-unknown", "ADR/RID 4.1.6.12(c), 6.2.2.7.3(f)", ADR_2025, "read",
     "The test pressure PH stands among the marks; without marks that can be read nothing may be put in."),
    ("rating-unproven", "ADR/RID 4.1.4.1 P200 (5)(b)", ADR_2025, "read",
     "A high-pressure liquefied gas goes only into a test pressure that table 2 of P200 lists for it."),
    ("capacity-unknown", "ADR/RID 4.1.4.1 P200 (5)", ADR_2025, "read",
     "The limit is a share of the water capacity; without it no limit can be given."),
    ("mass-unknown", "ADR/RID 4.1.4.1 P200 (7)", ADR_2025, "inferred",
     "The filling ratio is checked; without the present weight and the tare nothing may be added."),
    ("requalification-overdue", "ADR/RID 4.1.6.10", ADR_2025, "read",
     "A receptacle past its periodic inspection is not filled; it may be carried to the inspection or to disposal."),
    ("requalification-unknown", "ADR/RID 6.2.2.7.7", ADR_2025, "read",
     "Without a legible date of the last periodic inspection the receptacle cannot be shown to be within it."),
    ("requalification-period-p200", "ADR/RID 4.1.4.1 P200 (9) and table 2", ADR_2025, "read",
     "A receptacle is inspected every ten years for gases of codes 2A, 2F and 2O, every five for toxic ones."),
    ("inspect-before-filling", "ADR/RID 4.1.6.12", ADR_2025, "read",
     "Before filling, receptacle and fittings are inspected and found in good order, with legible marks."),
    ("weigh-again", "ADR/RID 4.1.4.1 P200 (7)(a)(iv)", ADR_2025, "read",
     "That the filling ratio is kept is checked when it is filled."),
    ("new-owner-only-reclaimed", "Regulation (EU) 2024/573 article 8", MEMORY, "memory",
     "Recovered gas is recycled, reclaimed or destroyed by certified people before others use it."),
    ("owner-consent", "ADR/RID 4.1.4.1 P200 (7)", ADR_2025, "inferred",
     "Only a filling centre with procedures and trained people fills; whose receptacle it is consents."),
    ("secured", "ADR/RID 7.5.7", MEMORY, "memory",
     "Receptacles are laid or stood so that they cannot shift, and secured."),
    ("one-refrigerant", "Regulation (EU) 2024/573 article 8", MEMORY, "inferred",
     "One refrigerant a cylinder: a mixture cannot be reclaimed and is destroyed at the shop's expense.", True),
    ("flammable-not-marked", "ADR/RID 5.2.2; EN ISO 5145 (left-hand outlet)", MEMORY, "memory",
     "A flammable refrigerant (class 2L, 2 or 3) goes only into a cylinder marked and fitted for flammable gas."),
    ("rcl", "EN 378-1 annex E, practical limit", "value and its mark in the table; " + MEMORY, "memory",
     "The mass per volume after a release of everything should not exceed the practical limit."),
    ("carriage-points", "ADR 1.1.3.6.3, 1.1.3.6.4", ADR_2025, "read",
     "On one vehicle the masses count fiftyfold in transport category 1 (ammonia twentyfold), threefold in 2 and "
     "once in 3; above 1000 the whole of ADR applies."),
)
"""The rules by their codes, each with clause, edition and mark."""
FOREIGN = Rule(
    "marks-of-another-law", "ADR/RID 1.1.4.7.2", ADR_2025, "read",
    "A cylinder of the United States Department of Transportation is filled only for export, by 49 CFR.",
)
# fmt: on
BOOK = RuleBook(
    code="eu",
    name="Europe (ADR)",
    rules=RULES,
    admits=frozenset({"ISO"}),
    foreign=FOREIGN,
    missing={
        "recovery": "to which vacuum equipment is evacuated stands in EN 378-4 and with the maker; neither was read"
    },
    stamp_order="year-first",
    concentration="practical-limit",
    shipping="adr",
)  # fmt: skip
"""The law of Europe, with what is missing of it."""
