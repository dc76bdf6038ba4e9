"""``/audit``: who did what; every change writes its entry in its own transaction, none is ever changed."""

from flask.views import MethodView

from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.schemas.audit import AuditArgs, AuditQuery, EntrySchema
from service.operations import audit
from service.operations.audit import Filter
from service.store.events import Event

blueprint = Blueprint("audit", __name__, description="Who did what")


@blueprint.route("/audit")
class Audit(MethodView):
    """The log."""

    @requires("supervisor")
    @blueprint.arguments(AuditArgs, location="query")
    @blueprint.response(200, page_of(EntrySchema))
    def get(self, args: AuditQuery) -> Listed[Event]:
        """List entries, newest first, of an actor, a subject, a type or a period on request."""
        wanted = Filter(args.actor, args.subject, args.type, args.start, args.end)
        return rows(audit.listed(services(), actor(), args.page, wanted))
