"""``/live``: what the worker says every few seconds, and what was last said of a hookup."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.resources.live_values import sighting, snapshot, unkept
from service.api.schemas.common import ID
from service.api.schemas.live import (
    HookupStateSchema,
    LiveAnswer,
    LiveAnswerSchema,
    LiveBatch,
    LiveSchema,
    LiveValuesSchema,
    State,
)
from service.operations import live
from service.operations.live import Snapshot
from service.operations.support.errors import NotFound
from service.store.heartbeats import EVERYWHERE
from service.store.live import Live

blueprint = Blueprint("live", __name__, description="Live values, shown but never evidence")


@blueprint.route("/live")
class LiveValues(MethodView):
    """A batch of one worker."""

    @requires("worker")
    @blueprint.arguments(LiveSchema, example=examples.LIVE)
    @blueprint.response(200, LiveAnswerSchema)
    def put(self, body: LiveBatch) -> LiveAnswer:
        """Take live values; hookups that are not active are left out, and a faulty value costs itself alone."""
        # First and apart: whatever the values are, the worker is alive.
        live.beat(services(), actor(), body.place or EVERYWHERE, body.broker_lost_s)
        snapshots = [snapshot(state["hookup"], state) for state in body.hookups]
        sightings = [sighting(heard) for heard in body.devices]
        failed = live.put(services(), actor(), snapshots, sightings, body.not_understood)
        of_hookups = [isinstance(one, Snapshot) for one in failed]
        return LiveAnswer(
            hookups=len(snapshots) - of_hookups.count(True),
            devices=len(sightings) - of_hookups.count(False),
            refused=[*body.refused, *map(unkept, failed)],
        )


@blueprint.route(f"/hookups/<{ID}:hookup_id>/live")
class HookupLive(MethodView):
    """Live values of one hookup."""

    @requires("reader", "worker", within=())
    @blueprint.response(200, LiveValuesSchema)
    def get(self, hookup_id: int) -> Live:
        """Read what was last said."""
        found = live.of_hookup(services(), actor(), hookup_id)
        if found is None:
            raise NotFound("live value of hookup", hookup_id)
        return found

    @requires("worker")
    @blueprint.arguments(HookupStateSchema, example=examples.LIVE_HOOKUP)
    @blueprint.response(204)
    def put(self, body: State, hookup_id: int) -> None:
        """Take live values of one hookup."""
        live.require(services(), actor(), hookup_id)
        live.put(services(), actor(), [snapshot(hookup_id, body)], [])
