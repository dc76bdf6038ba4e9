"""The alarm before the board's certificate ends."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from deploy.up.certificates import SERVER_FOR, ensure
from service.operations import certificate
from service.operations.support.context import Actor, Services
from service.store import alarms
from service.store.surroundings import Surroundings
from tests.support.clock import Clock

Standing = Callable[[], list[tuple[str, str]]]


@pytest.fixture
def pem(tmp_path: Path, clock: Clock) -> Path:
    return ensure(tmp_path / "certificates", ("shop.local",), ("127.0.0.1",), clock()).server


@pytest.fixture
def watched(services: Services, pem: Path) -> Services:
    return replace(services, surroundings=Surroundings(pem.parent, certificate=pem))


@pytest.fixture
def standing(services: Services, actor: Actor) -> Standing:
    def found() -> list[tuple[str, str]]:
        with services.database.reading(actor.organisation_id) as work:
            return [(alarm.code, alarm.severity) for alarm in alarms.open_ones(work)]

    return found


def test_it_is_raised_in_time_gets_worse_and_ends_with_a_new_certificate(
    watched: Services, standing: Standing, clock: Clock, pem: Path
) -> None:
    certificate.review(watched)
    assert standing() == []
    clock.forward(seconds=(SERVER_FOR.days - 21) * 86_400 - 60)
    certificate.review(watched)
    assert standing() == []
    clock.forward(seconds=120)
    certificate.review(watched)
    certificate.review(watched)
    assert standing() == [("certificate-ends", "warning")]
    clock.forward(seconds=18 * 86_400)
    certificate.review(watched)
    assert standing() == [("certificate-ends", "critical")]
    ensure(pem.parent, ("shop.local",), ("127.0.0.1",), clock())
    certificate.review(watched)
    assert standing() == []


def test_a_file_that_cannot_be_read_is_an_alarm_at_once(
    watched: Services, standing: Standing, pem: Path
) -> None:
    pem.write_text("nothing")
    certificate.review(watched)
    assert standing() == [("certificate-ends", "critical")]


def test_where_no_certificate_is_named_nothing_is_said(services: Services, standing: Standing) -> None:
    certificate.review(services)
    assert standing() == []
