"""The rules that this service applies to cylinders, each a value that an answer can name.

A rule carries its clause, the edition in which that clause was read, and how the clause is known: ``read`` in
the named text, ``memory`` (unverified), ``inferred`` from something read, ``computed``, or ``practice``
(common practice of the trade, no source). Whoever is refused by a rule can look it up, and can see how firmly
it stands.
"""

from dataclasses import dataclass
from typing import Final, Literal

Mark = Literal["read", "memory", "inferred", "computed", "practice"]

CFR_2015: Final = "annual edition 2015"
ADR_2025: Final = "ADR/RID 2025, the Norwegian edition, read 2026-11"
CFR_LATER: Final = "current text as mirrored, read 2026-11"
PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Parameters
    ----------
    code : str
        Stable name, used in answers and by clients.
    citation : str
        Clause, or the guideline it comes from.
    edition : str
        Edition in which the clause was read.
    mark : str
        How the clause is known.
    text : str
        The rule in one plain sentence.
    may_override : bool
        Whether the law leaves room for a supervisor to decide otherwise, with a recorded reason.
    """

    code: str
    citation: str
    edition: str
    mark: Mark
    text: str
    may_override: bool = False


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that is broken, and the numbers that break it."""

    rule: Rule
    detail: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A rule that does not forbid, but has to be said."""

    rule: Rule
    detail: str


NON_REFILLABLE = Rule(
    "non-refillable", "49 CFR 178.65(i)(2)(viii); SAE J1989 6.1 in 40 CFR 82 subpart B App. A", CFR_2015,
    "read", "A non-refillable cylinder (DOT 39, NRC) is never refilled.",
)  # fmt: skip
MARKS_UNKNOWN = Rule(
    "marks-unknown", "49 CFR 173.115(i); 173.301a(b)", CFR_2015, "read",
    "The service pressure is the number in the cylinder's marking; without a marking that can be read "
    "nothing may be "
    "put in.",
)  # fmt: skip
RATING_55 = Rule(
    "rating-55c", "49 CFR 173.301a(d); 173.301(a)(8)", CFR_LATER, "read",
    "The pressure at 55 °C (131 °F) may not exceed 5/4 of the marked service pressure.",
)  # fmt: skip
RATING_21 = Rule(
    "rating-21c", "49 CFR 173.301a(c)", CFR_LATER, "read",
    "The pressure at 21 °C (70 °F) may not exceed the marked service pressure.",
)  # fmt: skip
RATING_ISO = Rule(
    "rating-iso", "ADR/RID 4.1.4.1 P200 (4), (5)(c), (5)(e)", ADR_2025, "read",
    "For a cylinder marked with a test pressure PH, the absolute vapour pressure at 65 °C less 1 bar may not "
    "exceed PH, and PH is at least 10 bar.",
)  # fmt: skip
RATING_UNPROVEN = Rule(
    "rating-unproven", "49 CFR 173.301a(d)", CFR_LATER, "read",
    "Where the pressure at 55 °C cannot be computed for what the cylinder holds, its rating cannot be shown.",
)  # fmt: skip
PACKAGING = Rule(
    "packaging-not-listed", "49 CFR 173.304a(a)(2) table; 173.301(a)(5)", CFR_2015, "read",
    "The gas goes only into the specifications and marked pressures that its row of the table lists, or a "
    "higher "
    "pressure of the same specification.",
)  # fmt: skip
PACKAGING_NAMED = Rule(
    "packaging-listed", "49 CFR 173.304a(a)(2) table; 173.301(a)(5)", CFR_2015, "read",
    "The row of the table names this specification and marked pressure for this gas.",
)  # fmt: skip
FLAMMABLE_MARK = Rule(
    "flammable-not-marked", "AHRI Guideline N (red band), left-hand outlet; 49 CFR 173.301(f)",
    "guideline from memory, unverified; 173.301(f) 2015 edition", "memory",
    "A flammable refrigerant (class 2L, 2 or 3) goes only into a cylinder marked and fitted for flammable "
    "gas.",
)  # fmt: skip
FILL_80 = Rule(
    "fill-80-percent",
    "AHRI Guideline K (0.80 x water capacity x specific gravity at 25 °C); SAE J1990 7.4",
    "Guideline K as reported by a trade journal; 40 CFR 2015 edition", "read",
    "At 25 °C (77 °F) the liquid may fill at most 80 % of the cylinder's volume.",
)  # fmt: skip
FILL_55 = Rule(
    "fill-55c", "49 CFR 173.304(b); 173.301(a)(8)", CFR_2015, "read",
    "The liquid may not fill the cylinder at any temperature up to and including 55 °C (131 °F).",
)  # fmt: skip
FILL_DENSITY = Rule(
    "fill-density", "49 CFR 173.304a(a)(2) table", CFR_2015, "read",
    "The mass may not exceed the filling density that the table lists for this gas, in percent of the "
    "water capacity.",
)  # fmt: skip
FILL_DENSITY_SUPERCRITICAL = Rule(
    "fill-density-supercritical", "49 CFR 173.304(b); 173.301a(d)", "2015 edition; density computed", "computed",
    "A gas that the table does not name and that is above its critical temperature at 55 °C is filled to no more than "
    "its critical density, so that no temperature makes the cylinder liquid-full.",
)  # fmt: skip
FILL_DENSITY_LPG = Rule(
    "fill-density-lpg", "49 CFR 173.304a(d)(1) table", CFR_2015, "read",
    "The mass may not exceed the filling density that the table lists for the gas's specific gravity at 60 "
    "°F.",
)  # fmt: skip
FILL_ISO_50 = Rule(
    "fill-iso-50c", "ADR/RID 4.1.4.1 P200 (5)(c)", ADR_2025, "read",
    "In a cylinder marked with a test pressure PH the mass per litre may not exceed 0.95 of the liquid's density "
    "at 50 °C.",
)  # fmt: skip
FILL_ISO_60 = Rule(
    "fill-iso-60c", "ADR/RID 4.1.4.1 P200 (5)(c)", ADR_2025, "read",
    "In a cylinder marked with a test pressure PH the liquid may not fill the cylinder at any temperature up to "
    "60 °C.",
)  # fmt: skip
CAPACITY_UNKNOWN = Rule(
    "capacity-unknown", "49 CFR 173.304a(a)(2) note 1", CFR_2015, "read",
    "The limit is a share of the water capacity; without it no limit can be given.",
)  # fmt: skip
MASS_UNKNOWN = Rule(
    "mass-unknown", "49 CFR 173.304a(c)", CFR_2015, "read",
    "A liquefied gas is filled by weight; without the present weight and the tare nothing may be added.",
)  # fmt: skip
OVERDUE = Rule(
    "requalification-overdue", "49 CFR 180.205(c); 173.301(a)(6)", CFR_2015, "read",
    "A cylinder past its requalification date may be emptied and shipped, but not filled.",
)  # fmt: skip
REQUALIFICATION_UNKNOWN = Rule(
    "requalification-unknown", "49 CFR 180.205(c); 180.213", CFR_2015, "read",
    "Without a legible requalification stamp the cylinder cannot be shown to be within its date.",
)  # fmt: skip
SERVICE_LIFE = Rule(
    "service-life-over", "49 CFR 173.301(a)(7)", CFR_2015, "read",
    "A cylinder with a stated service life is not refilled after it; what it holds may go for reprocessing.",
)  # fmt: skip
ONE_REFRIGERANT = Rule(
    "one-refrigerant", "40 CFR 82 subpart F App. A1 (0.5 % other refrigerants); no single clause forbids it",
    CFR_2015, "inferred",
    "One refrigerant a cylinder: a mixture cannot be reclaimed and is destroyed at the shop's expense.",
    may_override=True,
)  # fmt: skip
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
OUT_OF_SERVICE = Rule(
    "out-of-service", "49 CFR 180.205(i)(2); the shop's own record", CFR_2015, "read",
    "A cylinder that was scrapped, condemned or handed over is not in this shop's service.",
)  # fmt: skip
INSPECTION = Rule(
    "inspect-before-filling", "49 CFR 173.301(a)(2)", CFR_2015, "read",
    "The outside is inspected before each filling: cracks, leaks, bulges, dents, rust, valve, relief "
    "device, signs of "
    "fire or heat.",
)  # fmt: skip
WEIGH_AGAIN = Rule(
    "weigh-again", "49 CFR 173.304a(c)", CFR_2015, "read",
    "After the fill line is disconnected the weight is checked again on an accurate scale.",
)  # fmt: skip
NOT_ENOUGH = Rule(
    "not-enough", "the record of this cylinder", "-", "computed",
    "No more can be taken out than the cylinder holds.",
)  # fmt: skip
VAPOUR_SHIFT = Rule(
    "vapour-shifts-blend", "ideal Rayleigh withdrawal computed from the recorded mass", "-", "computed",
    "A blend with glide taken out as vapour leaves a different composition behind; take it out as liquid.",
)  # fmt: skip
NEW_OWNER = Rule(
    "new-owner-only-reclaimed", "40 CFR 82.154(d)", "from memory, unverified", "memory",
    "Used refrigerant goes to another owner only after a certified reclaimer has reclaimed it.",
)  # fmt: skip
OWNER_CONSENT = Rule(
    "owner-consent", "49 CFR 173.301(e)", CFR_2015, "read",
    "Only the owner, or somebody with the owner's consent, fills a cylinder that then travels.",
)  # fmt: skip
CLAIM_ONLY = Rule(
    "claim-only", PRACTICE, "-", "practice",
    "The contents are known from a label or a record only; a pressure and temperature check costs minutes.",
)  # fmt: skip
TRADE_CYLINDER = Rule(
    "materials-of-trade-cylinder", "49 CFR 173.6", CFR_2015, "read",
    "As a material of trade a cylinder of a 2.1 or 2.2 gas weighs at most 100 kg (220 lb) gross.",
)  # fmt: skip
TRADE_VEHICLE = Rule(
    "materials-of-trade-vehicle", "49 CFR 173.6", CFR_2015, "read",
    "All materials of trade on one vehicle together weigh at most 200 kg (440 lb) gross.",
)  # fmt: skip
TRADE_EXCLUDED = Rule(
    "materials-of-trade-excluded", "49 CFR 173.6", CFR_2015, "read",
    "A gas of Division 2.3 or poisonous by inhalation, hazardous waste, and what nobody has identified are not "
    "materials of trade.",
)  # fmt: skip
SECURED = Rule(
    "secured", "49 CFR 177.840(a)(1)", CFR_2015, "read",
    "On a vehicle a cylinder is restrained, upright or horizontal, so that it cannot shift, overturn or be "
    "ejected; "
    "upright is the practice of the trade.",
)  # fmt: skip
RCL = Rule(
    "rcl", "ANSI/ASHRAE 34, refrigerant concentration limit", "value and its mark in the catalogue", "memory",
    "The concentration after a release of everything should not exceed the refrigerant concentration limit.",
)  # fmt: skip
OXYGEN = Rule(
    "oxygen",
    "ANSI/ASHRAE 34, oxygen deprivation limit 140 000 ppm up to 1000 m, 112 000 to 1500 m, 69 100 above",
    "from memory, unverified", "memory",
    "Above the oxygen deprivation limit the air no longer sustains people, whatever the refrigerant.",
)  # fmt: skip

ALL: Final[dict[str, Rule]] = {
    value.code: value for value in list(globals().values()) if isinstance(value, Rule)
}
