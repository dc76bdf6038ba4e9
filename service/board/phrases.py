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
    "undecided": "contamination not ruled out",
}
REMARKS = {
    "no-liquid": "the readings follow the temperature as if no liquid were left",
    "liquid-untested": "whether there is liquid was not put to the test: the temperature hardly moved",
    "probe-moved": "the thermometer seems to have moved",
    "probe-stuck": "the thermometer seems stuck",
    "probe-suspect": "the thermometer repeats one value and may be stuck: it is watched before anything counts",
    "offset-changed": "temperature and pressure do not fit together as they did before:"
    " see whether the clamp still sits as it did; if it does, hook it up again",
    "gauge-stuck": "the gauge seems stuck",
    "battery-low": "an instrument's battery is nearly empty",
    "no-pressure": "no pressure is heard: see whether the gauge is on, and under Devices what it says",
    "no-temperature": "no temperature is heard: see whether the clamp is on, and under Devices what it says",
    "slow-readings": "readings come more than a minute apart: settling takes half an hour and more."
    " Have them sent every 5 to 30 seconds",
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
SCRIPTED = (
    "Connection lost. What you see is as of {time}; trying again.",
    "No coverage. This page is as of {time}. Go on.",
    "1 entry waits on this phone.",
    "{count} entries wait on this phone.",
    "1 entry was not taken: see why.",
    "{count} entries were not taken: see why.",
    "{title}, entered {time}.",
    "Not taken: {reasons}",
    "Waits for coverage.",
    "Enter it again",
    "Remove from this list",
    "{what} of {serial}",
    "How much: expected a weight.",
    "The other cylinder cannot be judged without coverage.",
    "It was put on hold on this phone.",
    "By what was last known, {name} may not go into it.",
    "Too much: there is room for {mass}.",
    "Its retest date has passed.",
    "It holds less than that.",
    "An entry for it was not taken. Clear that up first.",
    "Not allowed",
    "No objections",
    "No coverage: judged by what this phone knew {time}.",
    "It is judged again when there is coverage.",
    "Record the transfer",
    "Judged by what this phone knew {time}.",
    "The cylinder is on hold until this is cleared up.",
    "It was done: record it as it is",
)
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


ALARMS = {
    "hot": "Hot",
    "pressure-toward-rating": "High pressure",
    "liquid-full": "Liquid-full",
    "liquid-full-soon": "Soon liquid-full",
    "overfull": "Overfull",
    "stop-filling": "Stop filling",
    "boiling-off": "Boiling off",
    "leak": "Leak",
    "contents-not-permitted": "Wrong cylinder",
    "flammable-not-marked": "Not marked flammable",
    "not-empty": "Not empty",
    "claim-contradicted": "Label ruled out",
    "mixed": "Mixed refrigerants",
    "air": "Air in it",
    "shifted": "Composition shifted",
    "advice-hold": "Hold advised",
    "implausible": "Figures do not fit",
    "overdue": "Retest overdue",
    "custody-overdue": "Not back",
    "instrument-check-due": "Check is due",
    "instrument-in-doubt": "Instrument off",
    "repair-overdue": "Repair overdue",
    "stale": "No readings",
    "battery-low": "Battery low",
    "devices-disagree": "Instruments disagree",
}


def alarm(code: str, text: str, serial: str | None) -> str:
    """Name an alarm, then say what was seen; the cylinder is named beside it."""
    return cause(code, text.removeprefix(f"Cylinder {serial}: ") if serial else text)


def cause(code: str, text: str) -> str:
    """Name a cause, then say what was seen."""
    title = ALARMS.get(code)
    if not title:
        return f"{text[:1].upper()}{text[1:]}"
    said = text.removeprefix("Hold: ")
    is_designation = said[1:2] == "-"
    return f"{title}: {said if is_designation else said[:1].lower() + said[1:]}"


def sentence_case(text: str) -> str:
    """Begin a sentence with a capital letter."""
    return f"{text[:1].upper()}{text[1:]}"


def actor(name: str) -> str:
    """Name who did it, without the kind before the colon."""
    return name.partition(":")[2] or name


def unbroken(text: str) -> Markup:
    """Keep every designation in one piece, however narrow the screen: ``R-454B`` never breaks at its hyphen."""
    return Markup(DESIGNATION.sub(r'<span class="nb">\g<0></span>', str(escape(text))))  # noqa: S704
