"""Tokens bound to places: refused by every route that does not say how it keeps to them."""

from collections.abc import Mapping, Sequence

from flask import request

from service.api.http.current import actor, services
from service.operations.support import reach
from service.operations.support.errors import NotAllowed

ABOUT = {"alarm_id": "alarm", "hold_id": "hold", "hookup_id": "hookup", "transfer_id": "transfer"}
"""Ids in a path, and what they are ids of."""
CYLINDERS = frozenset({"serial", "cylinder", "to_cylinder"})
PLACES = frozenset({"name", "place", "site"})


def keep_to_places(within: Sequence[str] | None, naming: str | None) -> None:
    """
    Refuse what a token that is bound to places may not reach; others pass.

    Parameters
    ----------
    within
        Members of the body or query that name a place, a cylinder or a hookup; each has to be one of the
        token's places, or of a cylinder there. What stands in the path is checked in any case. None: the
        route does not know of places, and is refused.
    naming
        The member that has to be there.

    Raises
    ------
    NotAllowed
        When the route, or something in its path, does not know of places.
    NotFound
        When something named is elsewhere.
    Invalid
        When the member of ``naming`` is missing.
    """
    who = actor()
    if who.places is None:
        return
    if within is None:
        raise NotAllowed("This token is bound to places, and what is asked for is not kept by place.")
    for name, value in (request.view_args or {}).items():
        _check_path(name, value)
    given = _members()
    if naming is not None and given.get(naming) is None:
        raise reach.told_missing(who, naming)
    for name in within:
        if name in given:
            _check(name, given[name])


def _check_path(name: str, value: object) -> None:
    if name in ABOUT and isinstance(value, int):
        reach.require_about(services(), actor(), ABOUT[name], value)
    elif name in CYLINDERS or name in PLACES:
        _check(name, value)
    elif name != "designation":
        raise NotAllowed(f"This token is bound to places, and {name} is of none.")


def _check(name: str, value: object) -> None:
    if name in PLACES:
        # Null takes a cylinder to no place at all, out of what the token may reach.
        reach.require_place(actor(), value)
    elif name == "hookup" and isinstance(value, int):
        reach.require_about(services(), actor(), "hookup", value)
    elif isinstance(value, str):
        # What is of another kind is refused by the schema.
        reach.require_cylinder(services(), actor(), value)


def _members() -> Mapping[str, object]:
    query: dict[str, object] = {**request.args.to_dict()}
    if request.method in {"POST", "PUT", "PATCH"}:
        try:
            body = request.get_json(silent=True)
        except RecursionError:
            body = None
        return {**query, **body} if isinstance(body, dict) else query
    return query
