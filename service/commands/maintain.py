"""``heelmark maintain``, ``person-export`` and ``person-erase``: what is kept, for how long, of whom."""

import json
from datetime import date, datetime
from typing import Any

import click

from service.operations import bootstrap, personal_data, retention
from service.operations.support.context import Actor, Services
from service.settings import load_settings

ORGANISATION = click.option(
    "--organisation", default="home", show_default=True, help="Organization it belongs to."
)


@click.command()
def maintain() -> None:
    """Thin and forget what is not kept for good, now; `heelmark watch` does it every night."""
    for removed in retention.maintain(_services()):
        click.echo(f"{removed.rows:9d}  {removed.what}")


@click.command("person-export")
@ORGANISATION
@click.argument("login")
def person_export(organisation: str, login: str) -> None:
    """Print everything that names a person, as JSON."""
    services = _services()
    found = personal_data.export(services, _actor(services, organisation), login)
    click.echo(json.dumps(found, indent=2, ensure_ascii=False, default=_plain))


@click.command("person-erase")
@ORGANISATION
@click.argument("login")
@click.confirmation_option(prompt="This ends the account and cannot be undone. Go on?")
def person_erase(organisation: str, login: str) -> None:
    """End a person's account and put a pseudonym wherever the name stands."""
    services = _services()
    erased = personal_data.erase(services, _actor(services, organisation), login)
    click.echo(f"{login} is {erased.pseudonym} now, in {erased.places} places")
    if erased.records_left:
        years = personal_data.RECORDS_KEPT.days // 365
        click.echo(
            f"{erased.records_left} records of recovery and disposal keep the technician's name until they are "
            f"{years} years old; the nightly retention takes it out then"
        )


def _services() -> Services:
    from service.wiring import wire

    return wire(load_settings())


def _actor(services: Services, organisation: str) -> Actor:
    found = bootstrap.organisation_id(services, organisation)
    if found is None:
        raise click.ClickException(f"there is no organisation {organisation}")
    return bootstrap.system_actor(found)


def _plain(value: Any) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value)
