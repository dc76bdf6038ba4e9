"""``/live``: what the worker says every few seconds, and what was last said of a hookup."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.live_json import encode_live, plain_reading, plain_state
from service.api.schemas.common import ID
from service.api.schemas.live import HookupStateSchema, LiveAnswerSchema, LiveSchema, LiveValuesSchema
from service.operations import live
from service.operations.atmosphere import PressureReading
from service.operations.errors import NotFound
from service.operations.live import Sighting, Snapshot
from service.operations.not_understood import Unread
from service.store.heartbeats import EVERYWHERE

blueprint = Blueprint("live", __name__, description="Live values, shown but never evidence")


@blueprint.route("/live")
class LiveBatch(MethodView):
    """A batch of one worker."""

    @requires("worker")
    @blueprint.arguments(LiveSchema, example=examples.LIVE)
    @blueprint.response(200, LiveAnswerSchema)
    def put(self, body: dict[str, Any]) -> dict[str, Any]:
        """Take live values; hookups that are not active are left out, and a faulty value costs itself alone."""
        # First and apart: whatever the values are, the worker is alive.
        live.beat(services(), actor(), body.get("place") or EVERYWHERE)
        snapshots = [_snapshot(state["hookup"], state) for state in body["hookups"]]
        sightings = [_sighting(device) for device in body["devices"]]
        unread = [_unread(one) for one in body["not_understood"]]
        failed = live.put(services(), actor(), snapshots, sightings, unread)
        unkept = [isinstance(one, Snapshot) for one in failed]
        return {
            "hookups": len(snapshots) - unkept.count(True),
            "devices": len(sightings) - unkept.count(False),
            "refused": [*body["refused"], *map(_failed, failed)],
        }


@blueprint.route(f"/hookups/<{ID}:hookup_id>/live")
class HookupLive(MethodView):
    """Live values of one hookup."""

    @requires("reader", "worker")
    @blueprint.response(200, LiveValuesSchema)
    def get(self, hookup_id: int) -> dict[str, Any]:
        """Read what was last said."""
        found = live.of_hookup(services(), actor(), hookup_id)
        if found is None:
            raise NotFound("live value of hookup", hookup_id)
        return encode_live(found)

    @requires("worker")
    @blueprint.arguments(HookupStateSchema, example=examples.LIVE_HOOKUP)
    @blueprint.response(204)
    def put(self, body: dict[str, Any], hookup_id: int) -> None:
        """Take live values of one hookup."""
        live.require(services(), actor(), hookup_id)
        live.put(services(), actor(), [_snapshot(hookup_id, body)], [])


def _snapshot(hookup_id: int, state: dict[str, Any]) -> Snapshot:
    temp_c, gauge, absolute = (
        state.get(name) for name in ("temperature_c", "gauge_pressure_kpa", "absolute_pressure_kpa")
    )
    ambient = state.get("ambient_pressure_kpa")
    pressure = None
    if gauge is not None or absolute is not None:
        pressure = PressureReading(
            absolute_pa=None if absolute is None else absolute * 1000.0,
            gauge_pa=None if gauge is None else gauge * 1000.0,
            ambient_pa=None if ambient is None else ambient * 1000.0,
        )
    return Snapshot(
        hookup_id=hookup_id,
        at=state["at"],
        settling_state=state["settling_state"],
        temp_k=None if temp_c is None else temp_c + 273.15,
        pressure=pressure,
        mass_kg=state.get("mass_kg"),
        probe_lag_s=state.get("probe_lag_s"),
        document=plain_state(state),
    )


def _unread(one: dict[str, Any]) -> Unread:
    first_seen_at, last_seen_at = one.pop("first_seen"), one.pop("last_seen")
    return Unread(**{"place": None, **one}, first_seen_at=first_seen_at, last_seen_at=last_seen_at)


def _failed(one: Snapshot | Sighting) -> dict[str, Any]:
    """An item that the service itself could not keep."""
    field, value = ("hookups", one.hookup_id) if isinstance(one, Snapshot) else ("devices", one.name)
    return {"field": field, "value": value, "expected": "something that the service can keep; see its log"}


def _sighting(device: dict[str, Any]) -> Sighting:
    readings = {name: plain_reading(reading) for name, reading in device["readings"].items()}
    return Sighting(device["device"], device.get("place"), device["last_seen"], readings)
