"""A signed-in browser without a browser: Flask's client with the cookie and the form's token."""

import re
from collections.abc import Callable

import pytest
from argon2 import PasswordHasher
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.operations import people
from service.operations.people import NewPerson
from service.operations.support import passwords
from service.operations.support.context import Actor, Services

PASSWORD = "a-long-test-password"


QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@pytest.fixture(autouse=True)
def _quick_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real cost is the point of argon2, but not of these tests."""
    monkeypatch.setattr(passwords, "_hasher", lambda: QUICK)


class Visitor:
    """Loads pages and sends their forms."""

    def __init__(self, client: FlaskClient) -> None:
        self.client = client

    def get(self, path: str, **headers: str) -> TestResponse:
        return self.client.get(path, headers=headers)

    def token(self) -> str:
        found = re.search(r'name="csrf" value="([^"]+)"', self.client.get("/sign-in").text)
        assert found is not None
        return found[1]

    def send(self, path: str, **fields: str) -> TestResponse:
        return self.client.post(path, data={"csrf": self.token(), **fields})

    def sign_in(self, login: str, password: str = PASSWORD) -> TestResponse:
        return self.send("/sign-in", login=login, password=password)


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    """Somebody who has not signed in."""
    return Visitor(app.test_client())


@pytest.fixture
def person(app: Flask, services: Services, actor: Actor) -> Callable[[str], Visitor]:
    """Makes somebody of a role, signed in."""

    def make(role: str) -> Visitor:
        people.create(services, actor, NewPerson(role, role.title(), role, PASSWORD))
        visitor = Visitor(app.test_client())
        assert visitor.sign_in(role).status_code == 303
        return visitor

    return make


@pytest.fixture
def technician_at(person: Callable[[str], Visitor]) -> Visitor:
    """A technician, signed in."""
    return person("technician")
