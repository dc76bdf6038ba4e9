"""Signing in with an organisation's provider, against a provider of our own that lies on request."""

from collections.abc import Iterator
from datetime import UTC, datetime
from urllib.parse import parse_qs, urlsplit

import pytest
import requests
from flask import Flask
from flask.testing import FlaskClient
from joserfc.jwk import RSAKey
from werkzeug.test import TestResponse

from service.operations import identities, people, personal_data
from service.operations.people import NewPerson
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid
from tests.conftest import make_owner
from tests.support.clock import Clock
from tests.support.openid_provider import CLIENT_ID, CLIENT_SECRET, OpenIdProvider, openid_provider


@pytest.fixture
def provider() -> Iterator[OpenIdProvider]:
    with openid_provider() as running:
        yield running


@pytest.fixture(autouse=True)
def now(clock: Clock) -> None:
    """The provider signs with the true time."""
    clock.at = datetime.now(UTC)


def register(
    services: Services, actor: Actor, provider: OpenIdProvider, newcomers: str | None = None
) -> None:
    identities.set_provider(
        services,
        actor,
        issuer=provider.issuer,
        client_id=CLIENT_ID,
        secret=CLIENT_SECRET,
        newcomer_role=newcomers,
    )


def go(browser: FlaskClient) -> str:
    """To the provider; answers the URL that it sends the browser back to."""
    there = browser.get("/sign-in/with/home")
    assert there.status_code == 302, there.text
    return str(requests.get(there.location, allow_redirects=False, timeout=10).headers["Location"])


def come_back(browser: FlaskClient, url: str) -> TestResponse:
    split = urlsplit(url)
    return browser.get(f"{split.path}?{split.query}")


def signed_in(browser: FlaskClient) -> bool:
    return browser.get("/settings").status_code == 200


def test_a_newcomer_gets_in_as_technician_where_newcomers_may(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider, "technician")
    browser = app.test_client()
    back = come_back(browser, go(browser))
    assert back.status_code == 200, back.text
    assert 'content="0; url=/' in back.text, "a page that leads on, so that the strict cookie comes along"
    assert signed_in(browser)
    (person,) = [p for p in people.listed(services, actor) if p.login == "rosa@fleet.example"]
    assert (person.role, person.password_hash, person.name) == ("technician", None, "Rosa Muster")
    assert people.sign_in(services, "rosa@fleet.example", "") is None


def test_a_newcomer_is_turned_away_where_they_may_not(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider)
    browser = app.test_client()
    back = come_back(browser, go(browser))
    assert back.status_code == 403
    assert "no account here" in back.text
    assert not signed_in(browser)


def test_a_known_person_is_linked_by_the_verified_address_and_known_by_subject_from_then_on(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    new = NewPerson("rosa@fleet.example", "Rosa", "supervisor", "a long password")
    people.create(services, actor, new)
    register(services, actor, provider)
    browser = app.test_client()
    assert come_back(browser, go(browser)).status_code == 200
    provider.claims = {"email": "rosa.married@fleet.example"}
    again = app.test_client()
    assert come_back(again, go(again)).status_code == 200
    assert signed_in(again)


@pytest.mark.parametrize("verified", [False, None, "true", 1])
def test_an_address_that_is_not_verified_opens_nobodys_account(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider, verified: object
) -> None:
    people.create(services, actor, NewPerson("rosa@fleet.example", "Rosa", "supervisor", "a long password"))
    register(services, actor, provider, "technician")
    provider.claims = {"email_verified": verified}
    browser = app.test_client()
    assert come_back(browser, go(browser)).status_code == 403


def test_another_organisations_person_is_out_of_reach(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    other = make_owner(services, "other")
    people.create(services, other, NewPerson("rosa@fleet.example", "Rosa", "supervisor", "a long password"))
    register(services, actor, provider, "technician")
    browser = app.test_client()
    assert come_back(browser, go(browser)).status_code == 403


def test_a_disabled_person_stays_out(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider, "technician")
    browser = app.test_client()
    come_back(browser, go(browser))
    assert signed_in(browser)
    provider.claims = {}
    personal_data.erase(services, actor, "rosa@fleet.example")
    assert not signed_in(browser), "the session ended at once"


LIES = {
    "another audience": {"aud": "somebody-else"},
    "several audiences": {"aud": [CLIENT_ID, "somebody-else"]},
    "another issuer": {"iss": "https://evil.example"},
    "expired": {"exp": 1},
    "issued in the future": {"iat": 4102444800},
    "replayed nonce": {"nonce": "of another sign-in"},
    "no nonce": {"nonce": None},
    "no subject": {"sub": None},
    "odd subject": {"sub": 7},
}


@pytest.mark.parametrize("lie", LIES)
def test_a_token_that_does_not_hold_lets_nobody_in(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider, lie: str
) -> None:
    register(services, actor, provider, "technician")
    provider.claims = LIES[lie]
    browser = app.test_client()
    back = come_back(browser, go(browser))
    assert back.status_code == 403, lie
    assert not signed_in(browser)


def test_a_foreign_signature_lets_nobody_in(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider, "technician")
    provider.signer = RSAKey.generate_key(2048, {"kid": "one"})
    browser = app.test_client()
    assert come_back(browser, go(browser)).status_code == 403


def test_a_provider_that_calls_itself_otherwise_is_not_believed(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider, "technician")
    provider.says_issuer = "https://evil.example"
    assert app.test_client().get("/sign-in/with/home").status_code == 403


def test_an_answer_that_this_browser_did_not_begin_is_refused(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    """Sign-in forgery: the attacker's answer, brought to the victim's browser."""
    register(services, actor, provider, "technician")
    attacker, victim = app.test_client(), app.test_client()
    url = go(attacker)
    assert come_back(victim, url).status_code == 403
    go(victim)
    assert come_back(victim, url).status_code == 403, "begun, but with another state"
    assert provider.exchanged == []
    assert not signed_in(victim)


def test_an_answer_counts_once(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider, "technician")
    browser = app.test_client()
    url = go(browser)
    assert come_back(browser, url).status_code == 200
    assert come_back(browser, url).status_code == 403


def test_what_goes_to_the_provider_carries_a_challenge_and_no_secret(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    register(services, actor, provider)
    answer = app.test_client().get("/sign-in/with/home")
    query = {name: values[0] for name, values in parse_qs(urlsplit(answer.location).query).items()}
    assert query["code_challenge_method"] == "S256"
    assert {"state", "nonce", "code_challenge"} <= query.keys()
    assert CLIENT_SECRET not in answer.location
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie


def test_unknown_organisations_and_unacceptable_issuers_are_refused(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    assert app.test_client().get("/sign-in/with/nobody").status_code == 404
    provider.issuer = "http://plain.example"
    with pytest.raises(Invalid, match="https"):
        register(services, actor, provider)
    provider.issuer = "https://fleet.example"
    with pytest.raises(Invalid, match="newcomer_role"):
        register(services, actor, provider, "supervisor")


def test_the_sign_in_page_offers_it_where_there_is_just_one(
    app: Flask, services: Services, actor: Actor, provider: OpenIdProvider
) -> None:
    page = app.test_client().get("/sign-in").text
    assert "/sign-in/with/" not in page
    register(services, actor, provider)
    assert "/sign-in/with/home" in app.test_client().get("/sign-in").text
    register(services, make_owner(services, "another owner"), provider)
    page = app.test_client().get("/sign-in").text
    assert "another owner" not in page, "who else is a customer is nobody's business"
    assert "/sign-in/with/" not in page


def test_the_clients_secret_is_sealed(services: Services, actor: Actor, provider: OpenIdProvider) -> None:
    register(services, actor, provider)
    with services.database.engine.connect() as connection:
        row = connection.exec_driver_sql("SELECT * FROM identity_providers").one()
    assert CLIENT_SECRET not in str(row)
