"""``/alarms``: what a supervisor must see."""

from flask.views import MethodView

from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.schemas.common import ID
from service.api.schemas.others import AlarmArgs, AlarmQuery, AlarmSchema
from service.operations import alarms
from service.store.alarms import Alarm

blueprint = Blueprint("alarms", __name__, description="What a supervisor must see")


@blueprint.route("/alarms")
class Alarms(MethodView):
    """Every alarm."""

    @requires("reader", within=("cylinder", "place"))
    @blueprint.arguments(AlarmArgs, location="query")
    @blueprint.response(200, page_of(AlarmSchema))
    def get(self, args: AlarmQuery) -> Listed[Alarm]:
        """List alarms, newest first; `open=false` for those of the past too."""
        page = alarms.listed(
            services(),
            actor(),
            args.page,
            open_only=args.standing if args.open is None else args.open,
            serial=args.cylinder,
            place=args.place,
            code=args.code,
        )
        return rows(page)


@blueprint.route(f"/alarms/<{ID}:alarm_id>/acknowledgement")
class Acknowledgement(MethodView):
    """Having seen one."""

    @requires("technician", within=())
    @blueprint.response(200, AlarmSchema)
    def post(self, alarm_id: int) -> Alarm:
        """Note that an alarm has been seen; the first who did counts."""
        return alarms.acknowledge(services(), actor(), alarm_id)
