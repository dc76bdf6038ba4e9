"""``/export``: everything as JSON Lines, streamed, going on after any line."""

import json
from collections.abc import Iterator
from dataclasses import dataclass

from flask import Response
from flask.views import MethodView

from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.fields import Text
from service.api.http.strict import Strict
from service.operations import exports

blueprint = Blueprint("exports", __name__, description="Everything, to take away")

LINES = "application/x-ndjson"


@dataclass(frozen=True, slots=True)
class ExportQuery:
    """Where to go on."""

    after: str | None


class ExportArgs(Strict):
    """Query of an export."""

    into = ExportQuery

    after = Text(load_default=None, metadata={"description": "the `mark` of the last line that arrived"})


@blueprint.route("/export")
class Export(MethodView):
    """Everything of the organisation."""

    @requires("supervisor")
    @blueprint.arguments(ExportArgs, location="query")
    @blueprint.response(200, {"type": "string"}, content_type=LINES)
    def get(self, args: ExportQuery) -> Response:
        """Read everything, one JSON object a line, without secrets.

        Each line has a `mark`; a broken export goes on with `?after=` the mark of the last line that arrived.
        """
        after = exports.BEGINNING if args.after is None else exports.read_mark(args.after)
        told = exports.lines(services(), actor(), after)

        def as_text() -> Iterator[str]:
            for line in told:
                yield json.dumps(line, ensure_ascii=False) + "\n"

        return Response(as_text(), content_type=LINES)
