"""Every cause that needs somebody is on the demo's board: who shows which, and whether the service sees it."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

from demo.registration import Api, stamp
from demo.scenario import Scenario

SEEN_BY_MIN: Mapping[str, float] = {"boiling-off": 15.0, "stale": 20.0, "stop-filling": 20.0}
"""Minutes of the demo until a cause is seen that only time brings: a calm course before the leak, and the quarter of an
hour after which the service calls devices silent."""
SHORT = frozenset({"stop-filling"})
"""Over as soon as somebody has done what it asks for; that it was raised is enough."""
MOST_MIN = 5.0
"""All others [min]."""
STANDARD: dict[str, Any] = {"place": "shop", "water_capacity_kg": 21.6, "tare_kg": 12.7}
USUAL_STAMP_MONTHS = 14


@dataclass(frozen=True, slots=True)
class Act:
    """One request that makes the trouble."""

    method: str
    path: str
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Troubled:
    """A cylinder without devices, and the requests by which it comes into its trouble."""

    serial: str
    causes: tuple[str, ...]
    story: str
    body: Mapping[str, Any]
    acts: tuple[Act, ...]
    stamp_months_ago: int = USUAL_STAMP_MONTHS


@dataclass(frozen=True, slots=True)
class Shown:
    """One cause, the cylinders that are to show it, and those of them that do."""

    cause: str
    expected: tuple[str, ...]
    seen: tuple[str, ...]

    @property
    def seen_by_min(self) -> float:
        """When at the latest one of them does, from the demo's beginning [min]."""
        return SEEN_BY_MIN.get(self.cause, MOST_MIN)


def load_troubled() -> tuple[Troubled, ...]:
    """Read `troubles.json`."""
    content = json.loads((files("demo") / "troubles.json").read_text(encoding="utf-8"))
    return tuple(
        Troubled(**{**one, "causes": tuple(one["causes"]), "acts": tuple(Act(**act) for act in one["acts"])})
        for one in content["cylinders"]
    )


def register_troubled(api: Api, began_at: float) -> int:
    """Register the cylinders without devices that are not known yet; answers how many were new.

    Parameters
    ----------
    api : Api
        The service.
    began_at : float
        The scenario's start, [s] since 1970.

    Raises
    ------
    Refused
        When the service does not take it.
    """
    fresh = 0
    for one in load_troubled():
        if api.get(f"/cylinders/{one.serial}") is not None:
            continue
        stamped = stamp(one.stamp_months_ago, datetime.fromtimestamp(began_at, UTC))
        api.post(
            "/cylinders", {"serial": one.serial, **STANDARD, "requalification_stamp": stamped, **one.body}
        )
        for act in one.acts:
            if act.method == "PATCH":
                api.change(act.path, dict(act.body))
            else:
                api.post(act.path, dict(act.body))
        fresh += 1
    return fresh


def expected(scenario: Scenario) -> dict[str, tuple[str, ...]]:
    """Which cylinders are to show each cause."""
    found: dict[str, list[str]] = {}
    shows = [(one.serial, one.causes) for one in scenario.cylinders]
    shows += [(one.serial, one.causes) for one in load_troubled()]
    for serial, causes in shows:
        for cause in causes:
            found.setdefault(cause, []).append(serial)
    return {cause: tuple(serials) for cause, serials in found.items()}


def shown(api: Api, scenario: Scenario) -> list[Shown]:
    """Each cause with the cylinders on which the service sees it now."""
    standing: dict[str, set[str]] = {}
    for alarm in api.every("/alarms", standing="false"):
        if alarm["cleared_at"] is None or alarm["code"] in SHORT:
            standing.setdefault(alarm["code"], set()).add(alarm["cylinder"])
    return [
        Shown(cause, serials, tuple(one for one in serials if one in standing.get(cause, ())))
        for cause, serials in expected(scenario).items()
    ]
