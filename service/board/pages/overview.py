"""The rack."""

from functools import lru_cache
from urllib.parse import quote

from flask import current_app, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from service.board.blueprint import bp
from service.board.session import actor, services, show, sign_in_first
from service.board.views.cards import card
from service.board.views.rack import Card, Filters
from service.board.views.rack import rack as rack_view
from service.operations import overview as racks


@bp.get("/")
def home() -> Response:
    """Begin at the rack."""
    return redirect(url_for("board.rack"))


@bp.get("/rack")
@sign_in_first
def rack() -> str:
    """Show every cylinder, or for the script those cards that changed."""
    only = request.args.getlist("only")[:500]
    filters = Filters(**{name: request.args.get(name, "") for name in ("q", "refrigerant", "state", "place")})
    # Building an address for each of 500 cards by the router takes longer than drawing them.
    prefix = url_for("board.cylinder", serial="x").removesuffix("x")
    found, quantities = racks.listed(services(), actor(), only), show()
    cards = [card(one, quantities, lambda serial: prefix + quote(serial, safe="")) for one in found]
    if only:
        admitted = [one for one in cards if filters.admits(one)]
        return render_template("rack_cards.html", cards=admitted, card_html=card_html)
    return render_template("rack.html", rack=rack_view(cards, filters), card_html=card_html)


@lru_cache(maxsize=8192)
def card_html(card: Card) -> Markup:
    """Draw a card; a card is all text and never changes, so what was drawn once is kept."""
    return Markup(current_app.jinja_env.get_template("parts/card.html").render(card=card))  # noqa: S704
