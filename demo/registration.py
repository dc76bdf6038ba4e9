"""Tells the service of the scenario's places, cylinders and hookups through its REST API, like any client."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import requests

from demo.scenario import DemoCylinder, Place, Scenario

TIMEOUT_S = 30.0
TESTER = "Z999"
"""Invented, like everything in the demo."""


class Refused(Exception):
    """The service answered with a problem."""


@dataclass(frozen=True, slots=True)
class Api:
    """The service as the demo's supervisor sees it."""

    base_url: str
    token: str

    def get(self, path: str, **query: str) -> Any:
        """Read a resource; none when there is no such thing."""
        return self._answer("GET", path, params=query)

    def every(self, path: str, **query: str) -> Iterator[dict[str, Any]]:
        """Read every item of a list, page by page."""
        while True:
            page = self.get(path, **query)
            yield from page["items"]
            if page["next"] is None:
                return
            query["after"] = page["next"]

    def post(self, path: str, body: dict[str, Any]) -> Any:
        """Create something; gives what the service answers."""
        return self._answer("POST", path, json=body)

    def patch(self, path: str, body: dict[str, Any]) -> None:
        """Change something."""
        self._answer("PATCH", path, json=body)

    def change(self, path: str, body: dict[str, Any]) -> None:
        """Change something that others may change too: as it was when it was read just now."""
        self._answer("PATCH", path, json=body, headers={"If-Match": self._version(path)})

    def _version(self, path: str) -> str:
        return str(self._sent("GET", path).headers["ETag"])

    def _answer(self, method: str, path: str, **more: Any) -> Any:
        answer = self._sent(method, path, **more)
        if answer.status_code == 404 and method == "GET":
            return None
        if not answer.ok:
            raise Refused(f"{method} {path}: {answer.status_code} {answer.text[:500]}")
        return answer.json()

    def _sent(
        self, method: str, path: str, headers: Mapping[str, str] | None = None, **more: Any
    ) -> requests.Response:
        return requests.request(
            method,
            f"{self.base_url}/api/v1{path}",
            headers={"Authorization": f"Bearer {self.token}", **(headers or {})},
            timeout=TIMEOUT_S,
            **more,
        )


def register(api: Api, scenario: Scenario, began_at: float) -> int:
    """Register what is not known yet.

    Parameters
    ----------
    api : Api
        The service.
    scenario : Scenario
        What to register.
    began_at : float
        The scenario's start, [s] since 1970.

    Returns
    -------
    int
        How many cylinders were new.

    Raises
    ------
    Refused
        When the service does not take it.
    """
    known = {place["name"]: place for place in api.get("/places")["items"]}
    for place in scenario.places.values():
        _have_place(api, place, known.get(place.name))
    fresh = 0
    hooked_up = {hookup["pressure_device"] for hookup in api.every("/hookups", active="true")}
    for cylinder in scenario.cylinders:
        if api.get(f"/cylinders/{cylinder.serial}") is None:
            api.post("/cylinders", _cylinder(cylinder, datetime.fromtimestamp(began_at, UTC)))
            fresh += 1
        since = began_at + 3600.0 * (scenario.hours_in_the_past - cylinder.hooked_up_hours_ago)
        for gauge, clamp in cylinder.instruments:
            if gauge.device not in hooked_up:
                api.post("/hookups", _hookup(cylinder, gauge.device, clamp.device, since))
    return fresh


def _have_place(api: Api, place: Place, known: dict[str, Any] | None) -> None:
    """Create a place, or give the one that the first run made the elevation of the scenario."""
    elevation = {"elevation_m": place.elevation_m}
    if known is None:
        api.post("/places", {"name": place.name, "kind": place.kind, **elevation})
    elif known["elevation_m"] != place.elevation_m:
        api.patch(f"/places/{place.name}", elevation)


def stamp_of(cylinder: DemoCylinder, on: datetime) -> str:
    """Return the requalification stamp as read off the shell."""
    return stamp(cylinder.requalified_months_ago, on)


def stamp(months_ago: int, on: datetime) -> str:
    """Return a stamp: month, the tester's number, year."""
    months = on.year * 12 + on.month - 1 - months_ago
    return f"{months % 12 + 1}-{TESTER}-{months // 12}"


def _cylinder(cylinder: DemoCylinder, on: datetime) -> dict[str, Any]:
    body: dict[str, Any] = {
        "serial": cylinder.serial,
        "marks": cylinder.marks,
        "requalification_stamp": stamp_of(cylinder, on),
        "flammable_marked": cylinder.flammable_marked,
        "valves": ["vapour", "liquid"],
        "place": cylinder.place,
        "water_capacity_kg": cylinder.water_capacity_kg,
        "tare_kg": cylinder.tare_kg,
    }
    if cylinder.claimed_designation:
        body["claimed_designation"] = cylinder.claimed_designation
    if cylinder.weighed:
        body["gross_mass_kg"] = round(cylinder.tare_kg + cylinder.truth.net_mass_kg, 2)
    return body


def _hookup(cylinder: DemoCylinder, gauge: str, clamp: str, since: float) -> dict[str, Any]:
    return {
        "cylinder": cylinder.serial,
        "place": cylinder.place,
        "pressure_device": gauge,
        "temperature_device": clamp,
        "valve": "vapour",
        "from": datetime.fromtimestamp(since, UTC).isoformat(timespec="milliseconds"),
        "temperature_bias_uncertainty_k": cylinder.temperature_bias_uncertainty_k,
        "pressure_bias_uncertainty_kpa": cylinder.pressure_bias_uncertainty_kpa,
    }
