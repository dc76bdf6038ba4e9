"""A technician who recovers all day: simulated equipment and machine, everything else through the public interface."""

from collections.abc import Callable, Mapping
from typing import Any

from demo.physics.recovery import Equipment, Machine
from demo.registration import Api, Refused
from demo.scenario import Recovery
from demo.station import Station
from service.store.artefacts import load_catalogue

HOLD_S = 310.0
PAUSE_S = 120.0
"""Between the end of one job and the next, in which the charge goes back into the equipment."""


class Job:
    """One recovery after the other out of one piece of equipment, seen only by scale, gauge and what is posted.

    Parameters
    ----------
    api : Api
        The service.
    facts : Recovery
        The equipment, and the cylinders in the order of use.
    stations : Mapping[str, Station]
        The simulated cylinders, by serial.
    tell : Callable[[str], None]
        Takes a line for the log.
    """

    def __init__(
        self, api: Api, facts: Recovery, stations: Mapping[str, Station], tell: Callable[[str], None]
    ) -> None:
        self._api, self._facts, self._tell = api, facts, tell
        self._stations = {serial: stations[serial] for serial in facts.cylinders}
        first = self._stations[facts.cylinders[0]]
        self.machine = Machine()
        self.equipment = Equipment(
            first.rig.cylinder.contents, facts.volume_m3,
            load_catalogue()[facts.refrigerant].molar_mass_kg_mol, facts.charge_kg, first.rig.ambient_k,
        )  # fmt: skip
        self._closed = False
        self._noted_at: float | None = None
        self._ended_at: float | None = None

    def take_up(self) -> None:
        """Bring scales and equipment to what the service has on record, after a restart."""
        for serial, station in self._stations.items():
            known = self._api.get(f"/cylinders/{serial}")
            if known and known["gross_mass_kg"] is not None:
                station.rig.cylinder.net_kg = known["gross_mass_kg"] - station.facts.tare_kg
        course = self._running()
        if course is not None:
            self.equipment.charge_kg -= course["recovered_kg"]
            if course["now"] is not None and course["now"]["gross_kg"] is not None:
                on = self._stations[course["now"]["cylinder"]]
                on.rig.cylinder.net_kg = course["now"]["gross_kg"] - on.facts.tare_kg

    def step(self, until_s: float, period_s: float) -> None:
        """Let the machine run into the cylinder that is on, over the steps that it is about to take up to `until_s`."""
        on = next((one for one in self._stations.values() if one.fills), None)
        steps = 0 if on is None else int((until_s - on.at_s) // period_s)
        if on is not None and steps > 0:
            on.fill_kg_s = self.machine.step(steps * period_s, self.equipment) / (steps * period_s)

    def tick(self, now_s: float) -> None:
        """Look at what the service says and do the next thing; `now_s` counts seconds."""
        try:
            course = self._running()
            if course is None:
                self._begin(now_s)
            else:
                self._go_on(course, now_s)
        except Refused as refused:
            self._open(None)
            self._tell(f"the recovery waits: {refused}")

    def _running(self) -> dict[str, Any] | None:
        for one in self._api.get("/recoveries", open="true")["items"]:
            if one["equipment"].get("appliance") == self._facts.appliance:
                course: dict[str, Any] = self._api.get(f"/recoveries/{one['id']}")
                return course
        return None

    def _begin(self, now_s: float) -> None:
        """Put the last charge back, wait a little, start again."""
        self._open(None)
        if self._ended_at is not None and now_s - self._ended_at < PAUSE_S:
            return
        if self._put_back():
            return  # the scales show it by the next look
        facts = self._facts
        body = {
            "cylinders": list(facts.cylinders), "refrigerant": facts.refrigerant, "equipment": self._named(),
            "technician": facts.technician, "method": "liquid",
        }  # fmt: skip
        course = self._api.post("/recoveries", body)
        self.equipment.charge_kg = facts.charge_kg
        self._noted_at, self._closed = None, False
        self._tell(f"recovery {course['id']} is on: {facts.charge_kg:.1f} kg out of {facts.appliance}")
        self._open(course["now"]["cylinder"])

    def _put_back(self) -> bool:
        """What a cylinder holds beyond what it began with goes back into the equipment; whether anything did."""
        moved = False
        for serial, station in self._stations.items():
            extra = round(station.rig.cylinder.net_kg - station.facts.truth.net_mass_kg, 2)
            if extra > 0.05:
                back = {"cylinder": serial, "direction": "out", "mass_kg": extra, "phase": "liquid"}
                self._api.post("/transfers", {**back, "equipment": {**self._named(), "same_owner": True}})
                station.rig.cylinder.net_kg -= extra
                moved = True
        return moved

    def _go_on(self, course: dict[str, Any], now_s: float) -> None:
        now, path = course["now"], f"/recoveries/{course['id']}"
        empty = self.equipment.pressure_pa <= self.machine.cut_out_pa
        if empty:
            self._open(None)
            self._end(path, now_s)
        elif now is not None and now["state"] == "stop":
            # The scale has to have said the last weight before the cylinder is taken off.
            if self._closed:
                swapped = self._api.post(f"{path}/cylinder-swaps", {"cylinder": now["cylinder"]})
                self._tell(f"{now['cylinder']} is off, {swapped['now']['cylinder']} is on")
                self._closed = False
                self._open(swapped["now"]["cylinder"])
            else:
                self._open(None)
                self._closed = True
        elif now is not None:
            self._open(now["cylinder"])

    def _end(self, path: str, now_s: float) -> None:
        """Read the vacuum, leave the machine off, read it again, end."""
        reading = {"absolute_pressure_kpa": round(self.equipment.pressure_pa / 1e3, 1)}
        if self._noted_at is None:
            self._api.post(f"{path}/vacuum-readings", reading)
            self._noted_at = now_s
        elif now_s - self._noted_at >= HOLD_S:
            self._api.post(f"{path}/vacuum-readings", reading)
            self._api.post(f"{path}/end", {})
            self._ended_at, self._noted_at = now_s, None
            self._tell("the recovery has ended")

    def _open(self, serial: str | None) -> None:
        """Open the valve of one cylinder, or shut all and switch the machine off."""
        self.machine.running = serial is not None
        for name, station in self._stations.items():
            station.fills = name == serial
            station.fill_kg_s = 0.0

    def _named(self) -> dict[str, Any]:
        facts = self._facts
        return {
            "appliance": facts.appliance, "location": facts.location, "owner": facts.owner,
            "charge_kg": facts.charge_kg,
        }  # fmt: skip
