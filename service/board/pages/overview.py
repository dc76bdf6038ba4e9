"""The cylinders."""

from functools import lru_cache
from urllib.parse import quote

from flask import current_app, render_template, request, url_for
from markupsafe import Markup

from service.board import session
from service.board.blueprint import bp
from service.board.session import actor, services, show, sign_in_first
from service.board.views.cards import card
from service.board.views.rack import Card, Filters
from service.board.views.rack import rack as rack_view
from service.operations import fleet
from service.operations.support.judgements import Judged
from service.store.fleet import Wanted

MOST_AT_ONCE = 80
"""So many changed cards the script asks for together; more is the whole page again."""


@bp.get("/rack")
@sign_in_first
def rack() -> str:
    """Show one page of the cylinders, or for the script those cards that changed."""
    only = request.args.getlist("only")[:MOST_AT_ONCE]
    filters = Filters(**{name: request.args.get(name, "") for name in ("q", "refrigerant", "state", "place")})
    wanted = Wanted(filters.q, filters.refrigerant, filters.state, filters.place)
    if only:
        cards = _cards(fleet.among(services(), actor(), wanted, only))
        return render_template("rack_cards.html", cards=cards, card_html=_drawn)
    listing = fleet.listed(services(), actor(), wanted, request.args.get("page", 1, type=int))
    page = rack_view(_cards(listing.judged), filters, listing)
    return render_template("rack.html", rack=page, card_html=_drawn)


def _cards(found: list[Judged]) -> list[Card]:
    # Building an address for each card by the router takes longer than drawing it.
    prefix, quantities = url_for("board.cylinder", serial="x").removesuffix("x"), show()
    return [card(one, quantities, lambda serial: prefix + quote(serial, safe="")) for one in found]


def _drawn(card: Card) -> Markup:
    return card_html(card, session.language())


@lru_cache(maxsize=8192)
def card_html(card: Card, _language: str) -> Markup:
    """Draw a card; a card is all text and never changes, so what was drawn once is kept."""
    return Markup(current_app.jinja_env.get_template("parts/card.html").render(card=card))  # noqa: S704
