"""``/webhooks``: subscriptions of fleet systems to what happens."""

from datetime import timedelta

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.paging import PageArgs, Paged
from service.api.schemas import webhooks as schemas
from service.api.schemas.common import ID
from service.operations import webhooks
from service.operations.webhooks import NewWebhook, WithSecret
from service.outbound.sender import Outcome
from service.store.webhooks import Attempt, Webhook

blueprint = Blueprint(
    "webhooks",
    __name__,
    description="CloudEvents 1.0 over HTTP, signed as Standard Webhooks, at least once and in order",
)
WEBHOOK = f"/webhooks/<{ID}:webhook_id>"


@blueprint.route("/webhooks")
class Webhooks(MethodView):
    """Every subscription."""

    @requires("supervisor", "events")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(schemas.WebhookSchema))
    def get(self, args: Paged) -> Listed[Webhook]:
        """List subscriptions and how they fare."""
        return rows(webhooks.listed(services(), actor(), args.page))

    @requires("supervisor")
    @blueprint.arguments(schemas.NewWebhookSchema, example=examples.WEBHOOK)
    @blueprint.response(201, schemas.WebhookWithSecretSchema)
    def post(self, body: NewWebhook) -> WithSecret:
        """Send every event from now on to a URL; the secret is told this once."""
        return webhooks.subscribe(services(), actor(), body)


@blueprint.route(WEBHOOK)
class OneWebhook(MethodView):
    """One subscription."""

    @requires("supervisor", "events")
    @blueprint.response(200, schemas.WebhookSchema)
    def get(self, webhook_id: int) -> Webhook:
        """Read a subscription and how it fares."""
        return webhooks.read(services(), actor(), webhook_id)

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
    def post(self, body: schemas.Rotation, webhook_id: int) -> WithSecret:
        """Make a new secret; until the overlap ends, messages carry signatures of both."""
        overlap = timedelta(hours=body.overlap_hours)
        return webhooks.rotate_secret(services(), actor(), webhook_id, overlap)


@blueprint.route(f"{WEBHOOK}/enablement")
class Enablement(MethodView):
    """Taking a disabled subscription up again."""

    @requires("supervisor")
    @blueprint.arguments(schemas.EnablingSchema, example={"skip_missed": False})
    @blueprint.response(200, schemas.WebhookSchema)
    def post(self, body: schemas.Enabling, webhook_id: int) -> Webhook:
        """Deliver again, from where it stopped or from now on; also makes a failing one be tried at once."""
        return webhooks.enable(services(), actor(), webhook_id, skip_missed=body.skip_missed)


@blueprint.route(f"{WEBHOOK}/replays")
class Replays(MethodView):
    """Sending a period again."""

    @requires("supervisor")
    @blueprint.arguments(schemas.ReplaySchema, example=examples.REPLAY)
    @blueprint.response(202, schemas.ReplayStartedSchema)
    def post(self, body: schemas.Replay, webhook_id: int) -> schemas.ReplayStarted:
        """Send the events of a period again, under the ids they had."""
        return schemas.ReplayStarted(webhooks.replay(services(), actor(), webhook_id, body.start, body.end))


@blueprint.route(f"{WEBHOOK}/pings")
class Pings(MethodView):
    """Trying it out."""

    @requires("supervisor")
    @blueprint.response(200, schemas.OutcomeSchema)
    def post(self, webhook_id: int) -> Outcome:
        """Send a signed test message now and tell what the receiver answered."""
        return webhooks.ping(services(), actor(), webhook_id)


@blueprint.route(f"{WEBHOOK}/attempts")
class Attempts(MethodView):
    """The delivery log."""

    @requires("supervisor", "events")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(schemas.AttemptSchema))
    def get(self, args: Paged, webhook_id: int) -> Listed[Attempt]:
        """List what was sent and what came of it, newest first."""
        return rows(webhooks.attempts(services(), actor(), webhook_id, args.page))
