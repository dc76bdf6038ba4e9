"""``/webhooks``: subscriptions of fleet systems to what happens."""

from dataclasses import asdict
from datetime import timedelta
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import PageArgs, answer, page_of, request_of
from service.api.schemas import webhooks as schemas
from service.api.schemas.common import ID
from service.operations import webhooks
from service.operations.webhooks import NewWebhook, WithSecret
from service.outbound.cloudevents import ContentMode
from service.store.webhooks import Webhook

blueprint = Blueprint(
    "webhooks",
    __name__,
    description="CloudEvents 1.0 over HTTP, signed as Standard Webhooks, at least once and in order",
)
WEBHOOK = f"/webhooks/<{ID}:webhook_id>"


@blueprint.route("/webhooks")
class Webhooks(MethodView):
    """Every subscription."""

    @requires("supervisor")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(schemas.WebhookSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List subscriptions and how they fare."""
        return answer(webhooks.listed(services(), actor(), request_of(args)), shown)

    @requires("supervisor")
    @blueprint.arguments(schemas.NewWebhookSchema, example=examples.WEBHOOK)
    @blueprint.response(201, schemas.WebhookWithSecretSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Send every event from now on to a URL; the secret is told this once."""
        mode, types = ContentMode(body.pop("mode")), tuple(body.pop("types"))
        return _with_secret(
            webhooks.subscribe(services(), actor(), NewWebhook(types=types, mode=mode, **body))
        )


@blueprint.route(WEBHOOK)
class OneWebhook(MethodView):
    """One subscription."""

    @requires("supervisor")
    @blueprint.response(200, schemas.WebhookSchema)
    def get(self, webhook_id: int) -> dict[str, Any]:
        """Read a subscription and how it fares."""
        return shown(webhooks.read(services(), actor(), webhook_id))

    @requires("supervisor")
    @blueprint.response(204)
    def delete(self, webhook_id: int) -> None:
        """Send nothing more."""
        webhooks.unsubscribe(services(), actor(), webhook_id)


@blueprint.route(f"{WEBHOOK}/secret-rotations")
class Rotations(MethodView):
    """Replacing the secret."""

    @requires("supervisor")
    @blueprint.arguments(schemas.RotationSchema, example={"overlap_hours": 24})
    @blueprint.response(201, schemas.WebhookWithSecretSchema)
    def post(self, body: dict[str, Any], webhook_id: int) -> dict[str, Any]:
        """Make a new secret; until the overlap ends, messages carry signatures of both."""
        overlap = timedelta(hours=body["overlap_hours"])
        return _with_secret(webhooks.rotate_secret(services(), actor(), webhook_id, overlap))


@blueprint.route(f"{WEBHOOK}/enablement")
class Enablement(MethodView):
    """Taking a disabled subscription up again."""

    @requires("supervisor")
    @blueprint.arguments(schemas.EnablingSchema, example={"skip_missed": False})
    @blueprint.response(200, schemas.WebhookSchema)
    def post(self, body: dict[str, Any], webhook_id: int) -> dict[str, Any]:
        """Deliver again, from where it stopped or from now on; also makes a failing one be tried at once."""
        return shown(webhooks.enable(services(), actor(), webhook_id, **body))


@blueprint.route(f"{WEBHOOK}/replays")
class Replays(MethodView):
    """Sending a period again."""

    @requires("supervisor")
    @blueprint.arguments(schemas.ReplaySchema, example=examples.REPLAY)
    @blueprint.response(202, schemas.ReplayStartedSchema)
    def post(self, body: dict[str, Any], webhook_id: int) -> dict[str, Any]:
        """Send the events of a period again, under the ids they had."""
        return {"events": webhooks.replay(services(), actor(), webhook_id, body["start"], body["end"])}


@blueprint.route(f"{WEBHOOK}/pings")
class Pings(MethodView):
    """Trying it out."""

    @requires("supervisor")
    @blueprint.response(200, schemas.OutcomeSchema)
    def post(self, webhook_id: int) -> dict[str, Any]:
        """Send a signed test message now and tell what the receiver answered."""
        outcome = webhooks.ping(services(), actor(), webhook_id)
        return {**asdict(outcome), "accepted": outcome.accepted}


@blueprint.route(f"{WEBHOOK}/attempts")
class Attempts(MethodView):
    """The delivery log."""

    @requires("supervisor")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(schemas.AttemptSchema))
    def get(self, args: dict[str, Any], webhook_id: int) -> dict[str, Any]:
        """List what was sent and what came of it, newest first."""
        return answer(webhooks.attempts(services(), actor(), webhook_id, request_of(args)), asdict)


def shown(webhook: Webhook) -> dict[str, Any]:
    """A subscription as clients see it: without its secrets."""
    failing = webhook.failing_since is not None and webhook.disabled_at is None
    return {
        **asdict(webhook),
        "enabled": webhook.disabled_at is None,
        "delivered_up_to": webhook.position,
        "next_attempt_at": webhook.due_at if failing else None,
    }


def _with_secret(made: WithSecret) -> dict[str, Any]:
    return {**shown(made.webhook), "secret": made.secret}
