"""The board's words: findings, states and levels, each with the glyph that draws it."""

import re
from collections.abc import Sequence

from markupsafe import Markup, escape

from service.cylinders.release import ESCAPE_IN_VEHICLE
from service.verdict.cautions import ALWAYS

SETTLING = {
    "waiting": "waiting for readings",
    "warming": "warming",
    "cooling": "cooling",
    "settling": "settling",
    "settled": "settled",
    "disturbed": "disturbed",
    "stale": "no new readings",
}
CONTAMINATION = {
    "none-detected": "nothing else detected",
    "air": "air in it",
    "shifted": "composition shifted",
    "mixed": "mixed refrigerants",
    "undecided": "contamination undecided",
}
REMARKS = {
    "no-liquid": "the readings follow the temperature as if no liquid were left",
    "liquid-untested": "whether there is liquid was not put to the test: the temperature hardly moved",
    "probe-moved": "the thermometer seems to have moved",
    "probe-stuck": "the thermometer seems stuck",
    "probe-suspect": "the thermometer repeats one value and may be stuck: it is watched before anything counts",
    "offset-changed": "temperature and pressure differ otherwise than when they last settled:"
    " see whether the clamp still sits as it did",
    "gauge-stuck": "the gauge seems stuck",
    "battery-low": "an instrument's battery is nearly empty",
    "devices-disagree": "the instruments on it say different things",
}
EXPLANATION = {"air": "with air", "mixed": "mixed", "shifted": "shifted"}
DISPOSITION = {
    "keep": "Keep",
    "measure-again": "Measure again",
    "hold": "Hold",
    "recover-and-recycle": "Recover and recycle",
    "send-to-reclaimer": "Send to a reclaimer",
    "send-for-destruction": "Send for destruction",
}
STANDING_CAUTIONS = (
    *ALWAYS,
    ESCAPE_IN_VEHICLE,
    "Air or mixed refrigerant is never vented: purging is done through recovery equipment and where the law"
    " allows.",
    "Purity is proven only by the laboratory analysis that the reclaim standard prescribes.",
)
MOST_NAMED = 4
DESIGNATION = re.compile(r"\bR-\d\w*(?:\([A-Za-z]\))?")


def listed(items: Sequence[str], joiner: str = "or") -> str:
    """Join words as a sentence does: ``a, b or c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {joiner} {items[-1]}"


def settling(code: str | None) -> tuple[str, str]:
    """Give the glyph and the words of a settling state; ``None`` is a cylinder without a hookup."""
    if code is None:
        return "none", "not hooked up"
    return code, SETTLING.get(code, code)


def remark(code: str) -> str:
    """Say what a remark of the worker means."""
    return REMARKS.get(code, code.replace("-", " "))


def contamination(code: str | None) -> tuple[str, str]:
    """Give the glyph and the words of a contamination finding."""
    if code is None:
        return "undecided", "not measured yet"
    return code, CONTAMINATION.get(code, code)


def sentence(
    identity: str, designations: Sequence[str], sure: str, finding: str, contents: str, air: str | None = None
) -> str:
    """
    Say a verdict in one sentence.

    Parameters
    ----------
    identity
        ``identified``, ``narrowed`` or ``unrecognised``.
    designations
        The candidates of the 95 % set, likeliest first.
    sure
        Probability of the first as text.
    finding
        The contamination finding.
    contents
        The finding about the state of the contents.
    air
        Partial pressure of air as text, where air was found.

    Returns
    -------
    str
        One sentence that never calls anything pure.
    """
    if contents == "liquid-full":
        return "Danger: the pressure fits a cylinder that is full of liquid; keep clear and cool it gently."
    if contents == "vapour-only":
        return "No liquid is left in it, so its pressure does not tell which refrigerant it is."
    if identity == "unrecognised" or not designations:
        return "No refrigerant on file fits these readings."
    if identity == "identified":
        return f"{_identified(f'{designations[0]} ({sure})', finding, air)}."
    names = list(designations[:MOST_NAMED])
    if len(designations) > MOST_NAMED:
        names.append(f"one of {len(designations) - MOST_NAMED} more")
    return f"It may be {listed(names)}: these readings do not part them{_narrowed_tail(finding)}."


def _identified(designation: str, finding: str, air: str | None) -> str:
    if finding == "none-detected":
        return f"{designation}, and nothing else was detected in it"
    if finding == "air":
        return f"{designation} with air in it, about {air}" if air else f"{designation} with air in it"
    if finding == "shifted":
        return f"{designation} whose composition has shifted: part of it was lost as vapour"
    if finding == "mixed":
        return f"Mostly {designation}, mixed with another refrigerant"
    return f"{designation}; whether something else is in it cannot be told yet"


def _narrowed_tail(finding: str) -> str:
    if finding in ("air", "shifted", "mixed"):
        return f", and there is a sign of contamination ({CONTAMINATION[finding]})"
    return " yet"


ALARMS = {
    "hot": "Hot",
    "pressure-toward-rating": "High pressure",
    "liquid-full": "Liquid-full",
    "liquid-full-soon": "Soon liquid-full",
    "overfull": "Overfull",
    "mixed": "Mixed refrigerants",
    "overdue": "Requalification overdue",
    "stale": "Silent",
    "battery-low": "Battery low",
    "leak": "Leak",
    "devices-disagree": "Instruments disagree",
}


def alarm(code: str, text: str, serial: str | None) -> str:
    """Name an alarm, then say what was seen; the cylinder is named beside it."""
    seen = text.removeprefix(f"Cylinder {serial}: ") if serial else text
    title = ALARMS.get(code)
    return f"{title}: {seen}" if title else f"{seen[:1].upper()}{seen[1:]}"


def actor(name: str) -> str:
    """Name who did it, without the kind before the colon."""
    return name.partition(":")[2] or name


def unbroken(text: str) -> Markup:
    """Keep every designation in one piece, however narrow the screen: ``R-454B`` never breaks at its hyphen."""
    return Markup(DESIGNATION.sub(r'<span class="nb">\g<0></span>', str(escape(text))))  # noqa: S704
