"""The assistant: a message that nobody can read, its numbers to choose from, and what they would be read as."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.board.quantities import Quantities
from service.board.views.devices import NAMES, question, said_by, short, value_text
from service.mappings.choices import ARRIVAL, Choices, time_choices
from service.mappings.proposing import MOST_LEAVES, Leaf, fixed_place, leaves, path_of
from service.mappings.trial import Trial
from service.mappings.units import UNITS, word
from service.operations.mappings import Shipped
from service.store.devices import Device
from service.store.not_understood import NotUnderstood

Option = tuple[str, str]
QUANTITY_WORDS = {
    "gauge-pressure": "gauge pressure",
    "absolute-pressure": "absolute pressure",
    "wall-temperature": "wall temperature",
    "ambient-temperature": "air temperature",
    "ambient-pressure": "air pressure (barometer)",
    "mass": "weight on the scale",
    "battery": "battery",
}
MOST_OTHERS = 4


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One level of the topic, and what it is said to be."""

    number: int
    word: str
    role: str


@dataclass(frozen=True, slots=True)
class NumberRow:
    """One number or text of the message."""

    number: int
    depth: int
    label: str
    shown: str
    path: str
    quantity: str
    unit: str

    @property
    def is_number(self) -> bool:
        """Whether it can be chosen."""
        return bool(self.path)


@dataclass(frozen=True, slots=True)
class ReadRow:
    """One value as it would be read, beside what others say."""

    what: str
    value: str
    device: str
    others: str
    question: str


@dataclass(frozen=True, slots=True)
class AssistantPage:
    """The page."""

    source: str
    topic: str
    detail: str
    levels: tuple[LevelRow, ...]
    numbers: tuple[NumberRow, ...]
    cut: bool
    device: str
    devices: tuple[Option, ...]
    place: str
    places: tuple[Option, ...]
    time: str
    times: tuple[Option, ...]
    reads: tuple[ReadRow, ...]
    faults: tuple[str, ...]
    offers: tuple[Option, ...]
    name: str
    quantities: tuple[Option, ...]
    units: tuple[Option, ...]


def assistant_page(
    one: NotUnderstood,
    choices: Choices,
    trial: Trial,
    offers: Sequence[tuple[Shipped, Trial]],
    others: Sequence[Device],
    places: Sequence[str],
    show: Quantities,
) -> AssistantPage:
    """Write the page of one message."""
    found, topic = leaves(one.message), one.topic or one.source
    texts = [
        (leaf.path, f"{leaf.path}: {leaf.shown}") for leaf in found if leaf.is_text and leaf.number is None
    ]
    known = [(fixed_place(name), f"always {name}") for name in places]
    return AssistantPage(
        source=one.source,
        topic=topic,
        detail=one.detail,
        levels=tuple(LevelRow(n, text, choices.roles.get(n, "")) for n, text in enumerate(topic.split("/"))),
        numbers=tuple(_numbers(found, choices)),
        cut=len(found) == MOST_LEAVES,
        device=choices.device,
        devices=(("", "a level of the topic"), *texts),
        place=choices.place,
        places=(("", "a level of the topic"), *known, *texts),
        time=choices.time,
        times=((ARRIVAL, "it has none: when it comes"), *_times(found, one.last_seen_at.timestamp())),
        reads=tuple(_reads(trial, choices, others, show)),
        faults=trial.faults,
        offers=tuple((shipped.document["name"], _told(made, show)) for shipped, made in offers),
        name=choices.name,
        quantities=(("", "not used"), *QUANTITY_WORDS.items()),
        units=(("", "unit"), *_units()),
    )


def _numbers(found: Sequence[Leaf], choices: Choices) -> list[NumberRow]:
    chosen = {value.path: value for value in choices.values}
    rows = []
    for number, leaf in enumerate(found):
        path = path_of(leaf) if leaf.number is not None else ""
        what = chosen.get(path)
        said = (what.quantity, what.unit) if what else ("", "")
        label = leaf.path if leaf.path != "@" else "the whole message"
        rows.append(NumberRow(number, leaf.depth, label, leaf.shown, path, *said))
    return rows


def _units() -> tuple[Option, ...]:
    codes = dict.fromkeys(code for units in UNITS.values() for code in units)
    return tuple((code, word(code)) for code in codes)


def _times(found: Sequence[Leaf], now_s: float) -> list[Option]:
    shown = {leaf.path: leaf.shown for leaf in found}
    paths = [(choice, choice.partition(" ")[2]) for choice in time_choices(found, now_s)]
    return [(choice, f"{path}: {shown[path]}") for choice, path in paths]


def _told(trial: Trial, show: Quantities) -> str:
    return ", ".join(
        f"{NAMES[one.quantity]} {value_text(one.quantity, one.value, show)}" for one in trial.readings
    )


def _reads(trial: Trial, choices: Choices, others: Sequence[Device], show: Quantities) -> list[ReadRow]:
    units = {value.quantity: value.unit for value in choices.values}
    rows = []
    for one in trial.readings:
        beside = said_by(others, one.quantity, but=one.device)
        told = [f"{value_text(one.quantity, si, show)} ({short(name)})" for name, si in beside.items()]
        unit = units.get(one.quantity, "")
        rows.append(
            ReadRow(
                what=QUANTITY_WORDS[one.quantity],
                value=value_text(one.quantity, one.value, show),
                device=one.device,
                others=", ".join(told[:MOST_OTHERS]),
                question=question(one.quantity, unit, one.value, tuple(beside.values())) if unit else "",
            )
        )
    return rows
