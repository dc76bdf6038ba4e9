"""``/audit``: who did what; every change writes its entry in its own transaction, none is ever changed."""

from dataclasses import asdict
from typing import Any

from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import answer, page_of, request_of
from service.api.schemas.audit import AuditArgs, EntrySchema
from service.operations import audit

blueprint = Blueprint("audit", __name__, description="Who did what")


@blueprint.route("/audit")
class Audit(MethodView):
    """The log."""

    @requires("supervisor")
    @blueprint.arguments(AuditArgs, location="query")
    @blueprint.response(200, page_of(EntrySchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List entries, newest first, of an actor, a subject, a type or a period on request."""
        request = request_of(args)
        return answer(audit.listed(services(), actor(), request, audit.Filter(**args)), asdict)
