"""The rules of the United States: 49 CFR (transport), 40 CFR 82 (recovery), and the trade's guidelines."""

from service.cylinders.books.book import RuleBook
from service.cylinders.books.rule import ADR_2025, CFR_2015, CFR_LATER, table

# Code, clause, edition, how the clause is known, the rule in a sentence, whether a supervisor may decide otherwise.
# fmt: off
RULES = table(
    ("non-refillable",
     "49 CFR 178.65(i)(2)(viii); SAE J1989 6.1 in 40 CFR 82 subpart B App. A",
     CFR_2015, "read",
     "A non-refillable cylinder (DOT 39, NRC) is never refilled."),
    ("marks-unknown", "49 CFR 173.115(i); 173.301a(b)", CFR_2015, "read",
     "The service pressure is the number in the cylinder's marking; without a marking that can be read nothing"
     " may be put in."),
    ("rating-55c", "49 CFR 173.301a(d); 173.301(a)(8)", CFR_LATER, "read",
     "The pressure at 55 °C (131 °F) may not exceed 5/4 of the marked service pressure."),
    ("rating-21c", "49 CFR 173.301a(c)", CFR_LATER, "read",
     "The pressure at 21 °C (70 °F) may not exceed the marked service pressure."),
    ("rating-iso", "ADR/RID 4.1.4.1 P200 (4), (5)(c), (5)(e)", ADR_2025, "read",
     "For a cylinder marked with a test pressure PH, the absolute vapor pressure at 65 °C less 1 bar may not "
     "exceed PH, and PH is at least 10 bar."),
    ("rating-unproven", "49 CFR 173.301a(d)", CFR_LATER, "read",
     "Where the pressure at 55 °C cannot be computed for what the cylinder holds, its rating cannot be shown."),
    ("packaging-not-listed", "49 CFR 173.304a(a)(2) table; 173.301(a)(5)", CFR_2015, "read",
     "The gas goes only into the specifications and marked pressures that its row of the table lists, or a "
     "higher pressure of the same specification."),
    ("packaging-listed", "49 CFR 173.304a(a)(2) table; 173.301(a)(5)", CFR_2015, "read",
     "The row of the table names this specification and marked pressure for this gas."),
    ("flammable-not-marked",
     "AHRI Guideline N (red band), left-hand outlet; 49 CFR 173.301(f)",
     "guideline from memory, unverified; 173.301(f) 2015 edition", "memory",
     "A flammable refrigerant (class 2L, 2 or 3) goes only into a cylinder marked and fitted for flammable "
     "gas."),
    ("fill-80-percent",
     "AHRI Guideline K (0.80 x water capacity x specific gravity at 25 °C); SAE J1990 7.4",
     "Guideline K as reported by a trade journal; 40 CFR 2015 edition", "read",
     "At 25 °C (77 °F) the liquid may fill at most 80 % of the cylinder's volume."),
    ("fill-55c", "49 CFR 173.304(b); 173.301(a)(8)", CFR_2015, "read",
     "The liquid may not fill the cylinder at any temperature up to and including 55 °C (131 °F)."),
    ("fill-density", "49 CFR 173.304a(a)(2) table", CFR_2015, "read",
     "The mass may not exceed the filling density that the table lists for this gas, in percent of the water "
     "capacity."),
    ("fill-density-supercritical",
     "49 CFR 173.304(b); 173.301a(d)",
     "2015 edition; density computed", "computed",
     "A gas that the table does not name and that is above its critical temperature at 55 °C is filled to no "
     "more than its critical density, so that no temperature makes the cylinder liquid-full."),
    ("fill-density-lpg", "49 CFR 173.304a(d)(1) table", CFR_2015, "read",
     "The mass may not exceed the filling density that the table lists for the gas's specific gravity at 60 "
     "°F."),
    ("fill-iso-50c", "ADR/RID 4.1.4.1 P200 (5)(c)", ADR_2025, "read",
     "In a cylinder marked with a test pressure PH the mass per litre may not exceed 0.95 of the liquid's "
     "density at 50 °C."),
    ("fill-iso-60c", "ADR/RID 4.1.4.1 P200 (5)(c)", ADR_2025, "read",
     "In a cylinder marked with a test pressure PH the liquid may not fill the cylinder at any temperature up "
     "to 60 °C."),
    ("capacity-unknown", "49 CFR 173.304a(a)(2) note 1", CFR_2015, "read",
     "The limit is a share of the water capacity; without it no limit can be given."),
    ("mass-unknown", "49 CFR 173.304a(c)", CFR_2015, "read",
     "A liquefied gas is filled by weight; without the present weight and the tare nothing may be added."),
    ("requalification-overdue", "49 CFR 180.205(c); 173.301(a)(6)", CFR_2015, "read",
     "A cylinder past its requalification date may be emptied and shipped, but not filled."),
    ("requalification-unknown", "49 CFR 180.205(c); 180.213", CFR_2015, "read",
     "Without a legible requalification stamp the cylinder cannot be shown to be within its date."),
    ("service-life-over", "49 CFR 173.301(a)(7)", CFR_2015, "read",
     "A cylinder with a stated service life is not refilled after it; what it holds may go for reprocessing."),
    ("one-refrigerant",
     "40 CFR 82 subpart F App. A1 (0.5 % other refrigerants); no single clause forbids it",
     CFR_2015, "inferred",
     "One refrigerant a cylinder: a mixture cannot be reclaimed and is destroyed at the shop's expense.", True),
    ("inspect-before-filling", "49 CFR 173.301(a)(2)", CFR_2015, "read",
     "The outside is inspected before each filling: cracks, leaks, bulges, dents, rust, valve, relief device, "
     "signs of fire or heat."),
    ("weigh-again", "49 CFR 173.304a(c)", CFR_2015, "read",
     "After the fill line is disconnected the weight is checked again on an accurate scale."),
    ("new-owner-only-reclaimed", "40 CFR 82.154(d)", "from memory, unverified", "memory",
     "Used refrigerant goes to another owner only after a certified reclaimer has reclaimed it."),
    ("owner-consent", "49 CFR 173.301(e)", CFR_2015, "read",
     "Only the owner, or somebody with the owner's consent, fills a cylinder that then travels."),
    ("materials-of-trade-cylinder", "49 CFR 173.6", CFR_2015, "read",
     "As a material of trade a cylinder of a 2.1 or 2.2 gas weighs at most 100 kg (220 lb) gross."),
    ("materials-of-trade-vehicle", "49 CFR 173.6", CFR_2015, "read",
     "All materials of trade on one vehicle together weigh at most 200 kg (440 lb) gross."),
    ("materials-of-trade-excluded", "49 CFR 173.6", CFR_2015, "read",
     "A gas of Division 2.3 or poisonous by inhalation, hazardous waste, and what nobody has identified are "
     "not materials of trade."),
    ("secured", "49 CFR 177.840(a)(1)", CFR_2015, "read",
     "On a vehicle a cylinder is restrained, upright or horizontal, so that it cannot shift, overturn or be "
     "ejected; upright is the practice of the trade."),
    ("rcl", "ANSI/ASHRAE 34, refrigerant concentration limit", "value and its mark in the catalogue", "memory",
     "The concentration after a release of everything should not exceed the refrigerant concentration limit."),
    ("oxygen",
     "ANSI/ASHRAE 34, oxygen deprivation limit 140 000 ppm up to 1000 m, 112 000 to 1500 m, 69 100 above",
     "from memory, unverified", "memory",
     "Above the oxygen deprivation limit the air no longer sustains people, whatever the refrigerant."),
    ("requalification-5-years", "49 CFR 180.209(a) table 1", CFR_LATER, "read",
     "Without proof of more, a cylinder is requalified every five years."),
    ("requalification-12-years",
     "49 CFR 180.209(e)",
     "table of the current text read, wording from memory", "memory",
     "With a corrosion-resistant coating and only non-corrosive gas free of corroding components: twelve years"
     " by volumetric expansion, on the owner's statement."),
    ("requalification-10-years", "49 CFR 180.209(e)", "inferred from two table versions", "inferred",
     "As for twelve years, by proof pressure: the first period twelve, the following ones ten years."),
    ("requalification-external-visual", "49 CFR 180.209(g); 180.213(f)(5)",
     "2015 edition for the mark E; gases and period from memory, unverified", "memory",
     "In exclusive listed service an external visual inspection, marked E, every five years."),
)
"""The rules by their codes, each with clause, edition and mark."""
# fmt: on
BOOK = RuleBook(code="us", name="United States", rules=RULES, admits=frozenset({"DOT", "ISO"}))
"""The law of the United States."""
