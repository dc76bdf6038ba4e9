"""``heelmark``: migrate, first run, tokens, people, tables; every command prints what it did."""

import json
import os
import sys
from datetime import timedelta
from importlib.metadata import EntryPoints, entry_points
from pathlib import Path
from typing import Any

import click

from service.commands.backup import WAIT, backup, restore
from service.commands.broker import broker_files
from service.commands.deliver import deliver
from service.commands.export import export
from service.commands.identity import identity_provider
from service.commands.maintain import maintain, person_erase, person_export
from service.commands.probe import probe
from service.commands.watch import watch
from service.operations import bootstrap, people, tokens
from service.operations.people import NewPerson
from service.operations.support import calendar
from service.operations.support.context import Actor, Services
from service.operations.support.errors import OperationError
from service.settings import Settings, SettingsError, load_settings, make_secret
from service.store import migrate as migrations
from service.store.database import UNAVAILABLE
from service.store.tabulation import tabulate

ORGANISATION = click.option(
    "--organisation", default="home", show_default=True, help="Organization it belongs to."
)


def main() -> None:
    """Run a command; a refusal is one sentence and exit code 1."""
    try:
        cli(standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (OperationError, SettingsError) as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    except UNAVAILABLE as error:
        cause = getattr(error, "orig", None) or error
        click.echo(f"the database cannot be used: {str(cause).strip().splitlines()[0]}", err=True)
        sys.exit(1)


class _Commands(click.Group):
    """The service's own commands, and those that packages beside it add by an entry point, such as ``up``.

    The service knows nothing of how it is deployed; what is added is loaded when it is called.
    """

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted({*super().list_commands(ctx), *_added().names})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        own = super().get_command(ctx, cmd_name)
        if own is not None or cmd_name not in _added().names:
            return own
        added: click.Command = _added()[cmd_name].load()
        return added


def _added() -> EntryPoints:
    return entry_points(group="heelmark.commands")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
def cli() -> None:
    """Heelmark's commands; settings come from HEELMARK_* variables."""


cli.add_command(tabulate)


@cli.command()
@click.option("--to", "revision", default="head", show_default=True, help="Revision to go to.")
@WAIT
def migrate(revision: str, wait_s: float) -> None:
    """Bring the database to the newest schema, making it and the session secret where they are missing."""
    make_secret(Path(os.environ.get("HEELMARK_DATA") or "var"))
    settings = load_settings()
    if wait_s > 0.0:
        migrations.wait_for(settings.database_url, wait_s)
    migrations.upgrade(settings.database_url, revision)
    click.echo("database is at the newest schema" if revision == "head" else f"database is at {revision}")


@cli.command("first-run")
@ORGANISATION
@click.option("--login", default="admin", show_default=True, help="Of the administrator.")
@click.option("--place", default="shop", show_default=True, help="The first place.")
@click.option("--elevation-m", type=float, help="Of that place.")
@click.option(
    "--time-zone",
    envvar="HEELMARK_TIME_ZONE",
    help="IANA name of the time zone by which days are counted; asked for at a terminal, else UTC.",
)
@click.option(
    "--output", type=click.Path(dir_okay=False, path_type=Path), help="File for the secrets (0600)."
)
def first_run_command(
    organisation: str,
    login: str,
    place: str,
    elevation_m: float | None,
    time_zone: str | None,
    output: Path | None,
) -> None:
    """Make the first organisation, administrator and tokens; their secrets are told this once."""
    settings, services = _wired()
    if time_zone is None:
        at_terminal = sys.stdin.isatty() and sys.stdout.isatty()
        question = "Time zone by which days are counted, such as America/Denver"
        time_zone = str(click.prompt(question, default="UTC")) if at_terminal else "UTC"
    calendar.known_zone(time_zone)
    fresh = output is not None and not output.exists()
    if output is not None and fresh:
        # A secret that cannot be written down must not come to be.
        write_private(output, {})
    made = bootstrap.set_up(
        services, organisation, login, place, elevation_m=elevation_m, time_zone=time_zone
    )
    if made is None:
        if output is not None and fresh:
            output.unlink()
        click.echo(f"organisation {organisation} exists; nothing was changed", err=True)
        return
    told = {
        "base_url": settings.public_url,
        "board": {"user": made.login, "password": made.password},
        "tokens": made.tokens,
        "mqtt": {"user": made.gateway, "password": made.gateway_password},
    }
    if output is None:
        click.echo(json.dumps(told, indent=2))
    else:
        write_private(output, told)
        click.echo(f"wrote {output}")


@cli.group()
def token() -> None:
    """Bearer tokens of machines."""


@token.command("create")
@ORGANISATION
@click.argument("name")
@click.option(
    "--scope", required=True, help="worker, events, gateway, reader, technician, supervisor or administrator."
)
@click.option("--days", type=int, help="Until it expires; never when not given.")
@click.option("--place", "places", multiple=True, help="Bind it to this place; may be given again.")
@click.option("--device", help="The only device that a gateway's token posts readings of.")
def token_create(
    organisation: str, name: str, scope: str, days: int | None, places: tuple[str, ...], device: str | None
) -> None:
    """Make a token and print its secret, this once."""
    _, services = _wired()
    expires_at = services.now() + timedelta(days=days) if days is not None else None
    actor = _actor(services, organisation)
    made = tokens.create(
        services, actor, name=name, scope=scope, expires_at=expires_at, places=places or None, device=device
    )
    click.echo(made.secret)


@token.command("list")
@ORGANISATION
def token_list(organisation: str) -> None:
    """List tokens with their last use."""
    _, services = _wired()
    for entry in tokens.listed(services, _actor(services, organisation)):
        state = "revoked" if entry.revoked_at else ("valid" if entry.valid(services.now()) else "expired")
        used = entry.last_used_at.isoformat(timespec="seconds") if entry.last_used_at else "never used"
        click.echo(f"{entry.id:4d}  {entry.name:20s} {entry.scope:14s} {state:8s} {used}")


@token.command("revoke")
@ORGANISATION
@click.argument("token_id", type=int)
def token_revoke(organisation: str, token_id: int) -> None:
    """Make a token useless at once."""
    _, services = _wired()
    tokens.revoke(services, _actor(services, organisation), token_id)
    click.echo(f"revoked token {token_id}")


@cli.command("create-person")
@ORGANISATION
@click.argument("login")
@click.option("--name", required=True)
@click.option("--role", required=True, help="technician, supervisor or administrator.")
@click.option("--certification-number", help="Of a technician.")
@click.option("--certification-type", help="Such as universal, type II, category I.")
@click.option("--certification-organisation", help="Who certified.")
@click.password_option("--password", envvar="HEELMARK_NEW_PASSWORD", help="Asked for when not given.")
def create_person(
    organisation: str,
    login: str,
    name: str,
    role: str,
    certification_number: str | None,
    certification_type: str | None,
    certification_organisation: str | None,
    password: str,
) -> None:
    """Let somebody sign in at the board."""
    _, services = _wired()
    certified = (certification_number, certification_type, certification_organisation)
    new = NewPerson(login, name, role, password, *certified)
    person = people.create(services, _actor(services, organisation), new)
    click.echo(f"{person.login} may sign in as {person.role}")


@cli.command("set-password")
@ORGANISATION
@click.argument("login")
@click.password_option("--password", envvar="HEELMARK_NEW_PASSWORD", help="Asked for when not given.")
def set_password(organisation: str, login: str, password: str) -> None:
    """Give somebody a new password; their sessions end."""
    _, services = _wired()
    actor = _actor(services, organisation)
    found = [person for person in people.listed(services, actor) if person.login == login]
    if not found:
        raise click.ClickException(f"nobody signs in as {login} in {organisation}")
    people.set_password(services, actor, found[0].id, password)
    click.echo(f"{login} has a new password")


def write_private(path: Path, content: dict[str, Any]) -> None:
    """Write JSON that nobody else on the machine can read."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
        os.fchmod(stream.fileno(), 0o600)
        stream.write(json.dumps(content, indent=2) + "\n")


def _wired() -> tuple[Settings, Services]:
    # Imported here: migrate and --help need neither tables of refrigerants nor the verdict engine.
    from service.wiring import wire

    settings = load_settings()
    return settings, wire(settings)


def _actor(services: Services, organisation: str) -> Actor:
    found = bootstrap.organisation_id(services, organisation)
    if found is None:
        raise click.ClickException(f"there is no organisation {organisation}; run `heelmark first-run`")
    return bootstrap.system_actor(found)


for _command in (
    watch,
    deliver,
    export,
    broker_files,
    backup,
    restore,
    maintain,
    person_export,
    person_erase,
    identity_provider,
    probe,
):
    cli.add_command(_command)
