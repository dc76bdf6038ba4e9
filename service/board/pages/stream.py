"""The live stream."""

from werkzeug.wrappers import Response

from service.board.blueprint import bp
from service.board.desk import sign_in_first


@bp.get("/stream")
@sign_in_first
def stream() -> Response:
    """Tell which subjects changed."""
    return Response(status=503)
