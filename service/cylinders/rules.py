"""The rules that an answer can name: the shop's own, and handles of those that every law words in its rule book.

A handle is the rule of the United States, where each was written first; ``RuleBook.cite`` gives another law's words
for the same rule. ``books/rule.py`` tells what a rule carries.
"""

from typing import Final

from service.cylinders.books import us
from service.cylinders.books.rule import (
    CFR_2015,
    CFR_LATER,
    PRACTICE,
    Breach,
    Caution,
    Mark,
    Rule,
)

__all__ = ["CFR_2015", "CFR_LATER", "PRACTICE", "Breach", "Caution", "Mark", "Rule"]

NON_REFILLABLE = us.RULES["non-refillable"]
MARKS_UNKNOWN = us.RULES["marks-unknown"]
RATING_55 = us.RULES["rating-55c"]
RATING_21 = us.RULES["rating-21c"]
RATING_ISO = us.RULES["rating-iso"]
RATING_UNPROVEN = us.RULES["rating-unproven"]
PACKAGING = us.RULES["packaging-not-listed"]
PACKAGING_NAMED = us.RULES["packaging-listed"]
FLAMMABLE_MARK = us.RULES["flammable-not-marked"]
FILL_80 = us.RULES["fill-80-percent"]
FILL_55 = us.RULES["fill-55c"]
FILL_DENSITY = us.RULES["fill-density"]
FILL_DENSITY_SUPERCRITICAL = us.RULES["fill-density-supercritical"]
FILL_DENSITY_LPG = us.RULES["fill-density-lpg"]
FILL_ISO_50 = us.RULES["fill-iso-50c"]
FILL_ISO_60 = us.RULES["fill-iso-60c"]
CAPACITY_UNKNOWN = us.RULES["capacity-unknown"]
MASS_UNKNOWN = us.RULES["mass-unknown"]
OVERDUE = us.RULES["requalification-overdue"]
REQUALIFICATION_UNKNOWN = us.RULES["requalification-unknown"]
SERVICE_LIFE = us.RULES["service-life-over"]
ONE_REFRIGERANT = us.RULES["one-refrigerant"]
INSPECTION = us.RULES["inspect-before-filling"]
WEIGH_AGAIN = us.RULES["weigh-again"]
NEW_OWNER = us.RULES["new-owner-only-reclaimed"]
OWNER_CONSENT = us.RULES["owner-consent"]
TRADE_CYLINDER = us.RULES["materials-of-trade-cylinder"]
TRADE_VEHICLE = us.RULES["materials-of-trade-vehicle"]
TRADE_EXCLUDED = us.RULES["materials-of-trade-excluded"]
SECURED = us.RULES["secured"]
RCL = us.RULES["rcl"]
OXYGEN = us.RULES["oxygen"]
PERIOD_5 = us.RULES["requalification-5-years"]
PERIOD_12 = us.RULES["requalification-12-years"]
PERIOD_10_PROOF = us.RULES["requalification-10-years"]
PERIOD_VISUAL = us.RULES["requalification-external-visual"]

CONTENTS_UNKNOWN = Rule(
    "contents-unknown", PRACTICE, "-", "practice",
    "Nothing is put on top of contents that nobody knows.", may_override=True,
)  # fmt: skip
UNKNOWN_ALONE = Rule(
    "unknown-alone", PRACTICE, "-", "practice",
    "An unknown refrigerant goes into an empty, evacuated cylinder of its own.", may_override=True,
)  # fmt: skip
UNKNOWN_UNMEASURED = Rule(
    "unknown-unmeasured", "49 CFR 173.301a(d)", CFR_LATER, "inferred",
    "For an unknown refrigerant the standing pressure and temperature are measured first, so that the "
    "rating can be "
    "judged by the worst candidate.",
)  # fmt: skip
NAMEPLATE = Rule(
    "nameplate-contradicted", PRACTICE, "-", "practice",
    "Equipment whose standing pressure and temperature contradict its nameplate is taken for unknown.",
    may_override=True,
)  # fmt: skip
NOT_EVACUATED = Rule(
    "not-evacuated", PRACTICE, "-", "practice",
    "A cylinder that held another refrigerant is evacuated before it is used again.", may_override=True,
)  # fmt: skip
ON_HOLD = Rule(
    "on-hold", "the shop's own rule", "-", "practice",
    "Nothing goes in or out of a cylinder on hold until a supervisor releases it.",
)  # fmt: skip
ADVICE = Rule(
    "advice", "what the readings and the record of this cylinder advise", "-", "computed",
    "What the advice forbids is not done until it has ended or a supervisor has released it.", may_override=True,
)  # fmt: skip
LEAKING = Rule(
    "leaking", "49 CFR 173.24(b)(1); 173.301(a)(2)", "from memory, unverified", "memory",
    "A cylinder that leaks is not offered for transport.",
)  # fmt: skip
RECOVER_FIRST = Rule(
    "not-empty", "40 CFR 82.154(a); the record of this cylinder", "clause from memory, unverified", "memory",
    "Refrigerant is recovered before a cylinder is drawn to vacuum, never vented.",
)  # fmt: skip
MIXED_FOR_RECLAIM = Rule(
    "mixed-for-reclaim", PRACTICE, "-", "practice",
    "A reclaimer takes mixed refrigerant for reclaim only after having agreed to it.", may_override=True,
)  # fmt: skip
OUT_OF_SERVICE = Rule(
    "out-of-service", "49 CFR 180.205(i)(2); the shop's own record", CFR_2015, "read",
    "A cylinder that was scrapped, condemned or handed over is not in this shop's service.",
)  # fmt: skip
NOT_ENOUGH = Rule(
    "not-enough", "the record of this cylinder", "-", "computed",
    "No more can be taken out than the cylinder holds.",
)  # fmt: skip
VAPOUR_SHIFT = Rule(
    "vapour-shifts-blend", "ideal Rayleigh withdrawal computed from the recorded mass", "-", "computed",
    "A blend with glide taken out as vapor leaves a different composition behind; take it out as liquid.",
)  # fmt: skip
CLAIM_ONLY = Rule(
    "claim-only", PRACTICE, "-", "practice",
    "The contents are known from a label or a record only; a pressure and temperature check costs minutes.",
)  # fmt: skip
# Where a law has not been read, or does not admit a cylinder of another one.
LAW_MISSING = Rule(
    "law-not-read", "the law of the place", "-", "practice",
    "Where the law of the place has not been read, its limit cannot be given, and no other country's stands in for "
    "it.",
)  # fmt: skip
FOREIGN_MARKS = Rule(
    "marks-of-another-law", "the law of the place", "-", "practice",
    "A cylinder is filled only where the law of the place admits its marks.",
)  # fmt: skip
FILL_P200 = Rule(
    "fill-p200", "ADR/RID 4.1.4.1 P200 table 2", "ADR/RID 2025, the Norwegian edition, read 2026-11", "read",
    "The mass may not exceed the filling ratio that table 2 lists for the gas at the cylinder's test pressure.",
)  # fmt: skip
PACKAGING_P200 = Rule(
    "packaging-p200", "ADR/RID 4.1.4.1 P200 table 2", "ADR/RID 2025, the Norwegian edition, read 2026-11", "read",
    "The test pressure is at least the one that table 2 lists for the gas.",
)  # fmt: skip
CONFORMITY = Rule(
    "no-conformity-mark", "Directive 2010/35/EU; ADR/RID 6.2.2.7.2(a), 6.2.3.9",
    "directive from memory, unverified; ADR/RID 2025, the Norwegian edition, read 2026-11", "memory",
    "A cylinder filled under ADR bears the UN packaging symbol or the pi mark; older ones rest on a national approval.",
    may_override=True,
)  # fmt: skip

ALL: Final[dict[str, Rule]] = {
    value.code: value for value in list(globals().values()) if isinstance(value, Rule)
}
"""Every rule by its code, which answers name and clients rely on."""
