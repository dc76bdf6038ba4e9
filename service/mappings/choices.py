"""What a person chooses of a message, first guessed, and the mapping that it makes."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from service.mappings.proposing import Leaf, fixed_place, guess, leaves, path_of, time_form, topic_of

OWN = re.compile(r"[^/]+/[^/]+/readings/[^/]+").fullmatch
"""The worker's own topics, `root/place/readings/device`."""
ARRIVAL = "arrival"
_SURE_DEVICE = re.compile(r"eui|\bmac\b|serial|device|dev_id", re.IGNORECASE)
_NO_DEVICE = re.compile(r"type|model|name\b|vers|fw|class|time", re.IGNORECASE)
_DEVICE_NAMES = re.compile(r"dev|eui|mac|serial|sensor|probe|node|gauge|clamp|\bid\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Chosen:
    """One number of the message, and what it is; it is left out where the quantity is empty."""

    path: str
    quantity: str
    unit: str


@dataclass(frozen=True, slots=True)
class Choices:
    """
    What a person says of a message.

    Parameters
    ----------
    name
        Of the mapping.
    roles
        What levels of the topic are, by number: ``device``, ``place`` or ``any``; the others are words.
    device, place
        A path to it, where no level of the topic is it.
    time
        ``arrival``, or a form and a path with a blank between.
    values
        The numbers.
    """

    name: str
    roles: Mapping[int, str]
    device: str
    place: str
    time: str
    values: Sequence[Chosen] = field(default_factory=tuple)


def proposed(topic: str, message: object, places: Sequence[str], now_s: float) -> Choices:
    """
    A first guess.

    Parameters
    ----------
    topic, message
        Where it was published, and its tree.
    places
        Names of the places that there are.
    now_s
        When it came, seconds since 1970 UTC [s].
    """
    found = leaves(message)
    roles = _roles(topic, places)
    device = "" if OWN(topic) else _device(found, "device" in roles.values())
    if device:
        # It says itself who it is: the level may be a network's or an application's.
        roles = {number: "any" if role == "device" else role for number, role in roles.items()}
    place = "" if "place" in roles.values() or not places else fixed_place(places[0])
    times = time_choices(found, now_s)
    values, taken = [], set[str]()
    for leaf in found:
        what = guess(leaf)
        if what.quantity and what.quantity not in taken and not time_form(leaf, now_s):
            taken.add(what.quantity)
            values.append(Chosen(path_of(leaf), what.quantity, what.unit))
    name = re.sub(r"[^a-z0-9]+", "-", topic.lower()).strip("-")[:60].strip("-") or "mapping"
    return Choices(name, roles, device, place, times[0] if times else ARRIVAL, tuple(values))


def _device(found: Sequence[Leaf], topic_may: bool) -> str:
    """The path of a text that names the device; where the topic may name it, only a text that surely does."""
    names = _SURE_DEVICE if topic_may else _DEVICE_NAMES
    texts = [
        leaf.path
        for leaf in found
        if leaf.is_text and leaf.number is None and not _NO_DEVICE.search(leaf.path)
    ]
    return next((path for path in texts if names.search(path)), "")


def _roles(topic: str, places: Collection[str]) -> dict[int, str]:
    levels = topic.split("/")
    if OWN(topic):
        return {1: "place", 3: "device"}
    roles: dict[int, str] = {}
    for number, level in enumerate(levels[1:], 1):
        if level in places and "place" not in roles.values():
            roles[number] = "place"
    numbered = [n for n, level in enumerate(levels) if n and n not in roles and re.search(r"\d", level)]
    if numbered:
        roles[numbered[-1]] = "device"
    return roles


def time_choices(found: Sequence[Leaf], now_s: float) -> list[str]:
    """Forms with paths that lead to a time near now [s]."""
    return [f"{form} {leaf.path}" for leaf in found if (form := time_form(leaf, now_s))]


def document_of(choices: Choices, topic: str, message: object) -> dict[str, Any]:
    """The mapping that the choices make; it is checked by whoever keeps or tries it."""
    document: dict[str, Any] = {"name": choices.name, "topic": topic_of(topic, choices.roles)}
    if isinstance(message, list):
        document["each"] = "[@]"
    if choices.device and "device" not in choices.roles.values():
        document["device"] = choices.device
    if choices.place and "place" not in choices.roles.values():
        document["place"] = choices.place
    if choices.time != ARRIVAL:
        form, _, path = choices.time.partition(" ")
        document["time"] = {"path": path, "form": form}
    document["value"] = [
        {"quantity": one.quantity, "path": one.path, "unit": one.unit}
        for one in choices.values
        if one.quantity
    ]
    return document


def repeated(choices: Choices) -> list[str]:
    """Quantities that are said of two numbers: one device has one of each."""
    said = [one.quantity for one in choices.values if one.quantity]
    return sorted({quantity for quantity in said if said.count(quantity) > 1})
