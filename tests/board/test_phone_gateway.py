"""What a phone read from its sensors: kept for the worker like any gateway's readings, or refused with the reason."""

import json

import pytest

from service.operations import messages, places
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor

PACK = json.dumps([{"n": "clamp-7:wall-temperature", "u": "Cel", "v": 21.37, "t": 1772366400.5}])
TAKE = "/phone-gateway/readings"


@pytest.fixture(autouse=True)
def _place(services: Services, actor: Actor) -> None:
    places.create(services, actor, name="van 7", kind="van", elevation_m=None)


def waiting(services: Services, actor: Actor) -> list[tuple[str, str, bytes, str | None]]:
    kept = messages.waiting(services, actor, [], 10)
    return [(one.place, one.device, one.payload, one.mapping) for one in kept]


def test_a_pack_is_kept_as_it_came(technician_at: Visitor, services: Services, actor: Actor) -> None:
    assert technician_at.send(TAKE, place="van 7", pack=PACK).status_code == 202
    assert waiting(services, actor) == [("van 7", messages.GATEWAY, PACK.encode(), None)]


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"place": "nowhere", "pack": PACK}, "There is no place 'nowhere'; choose one that there is."),
        ({"pack": PACK}, "Place: nothing was given"),
        ({"place": "van 7"}, "Readings: nothing was given"),
        ({"place": "van 7", "pack": "x" * 100_001}, "Readings: 100001 characters, at most 100000 are kept"),
    ],
)
def test_what_is_refused_says_why_and_keeps_nothing(
    technician_at: Visitor, services: Services, actor: Actor, fields: dict[str, str], reason: str
) -> None:
    answer = technician_at.send(TAKE, **fields)
    assert (answer.status_code, answer.get_json()) == (409, {"reasons": [reason]})
    assert waiting(services, actor) == []


def test_while_too_many_wait_the_phone_keeps_its_own(
    technician_at: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(messages, "MOST_WAITING", 0)
    answer = technician_at.send(TAKE, place="van 7", pack=PACK)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")


def test_nobody_sends_without_signing_in_or_without_the_token(
    visitor: Visitor, technician_at: Visitor, services: Services, actor: Actor
) -> None:
    assert visitor.send(TAKE, place="van 7", pack=PACK).status_code == 401
    assert technician_at.client.post(TAKE, data={"place": "van 7", "pack": PACK}).status_code == 400
    assert waiting(services, actor) == []


def test_the_page_offers_the_places_and_is_kept_for_when_there_is_no_coverage(technician_at: Visitor) -> None:
    page = technician_at.get("/phone-gateway").text
    assert '<option value="van 7">' in page
    assert "phone_gateway.js?v=" in page
    worker = technician_at.get("/sw.js").text
    assert "/static/phone_gateway.js?v=" in worker and "phone-gateway$/" in worker
