"""An instruction stands first on its cylinder's page until somebody ticks it off."""

import pytest

from service.operations import cylinders
from service.operations.support.context import Actor, Services
from tests.board.conftest import Visitor

TEXT = "Weigh it before you use it <b>now</b>"


@pytest.fixture
def pinned(services: Services, actor: Actor, technician_at: Visitor) -> str:
    cylinders.register(services, actor, "HM-1", {"place": "shop"})
    assert technician_at.send("/cylinders/HM-1/instructions", text=TEXT).status_code == 303
    return "HM-1"


def test_it_stands_first_on_the_page_and_is_counted_on_the_list(technician_at: Visitor, pinned: str) -> None:
    page = technician_at.get(f"/cylinders/{pinned}").text
    assert 0 < page.index("Weigh it before you use it &lt;b&gt;now&lt;/b&gt;") < page.index("<strong>Next:")
    assert "1 instruction waits" in technician_at.get("/rack").text
    assert "Weigh it before you use it" in technician_at.get("/instructions").text


def test_ticked_off_it_is_gone_from_the_page_and_stays_in_the_history(
    technician_at: Visitor, pinned: str
) -> None:
    done = f"/cylinders/{pinned}/instructions/1/done"
    assert technician_at.send(done, answer="41.2 lb").status_code == 303
    page = technician_at.get(f"/cylinders/{pinned}").text
    assert 'class="pinned"' not in page
    assert "Done: 41.2 lb" in page
    assert "Done: 41.2 lb" in technician_at.get(f"/cylinders/{pinned}/instructions").text
    assert "Nothing waits." in technician_at.get("/instructions").text
    assert "instruction waits" not in technician_at.get("/rack").text
    assert "has done this already" in technician_at.send(done).text


def test_an_empty_one_is_asked_again(technician_at: Visitor, pinned: str) -> None:
    refused = technician_at.send(f"/cylinders/{pinned}/instructions", text=" ")
    assert "nothing was given" in refused.text
