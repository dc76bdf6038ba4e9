"""``heelmark identity-provider``: sign in with an organisation's own OpenID Connect provider."""

from pathlib import Path

import click

from service.operations import identities
from service.settings import load_settings

ORGANISATION = click.option(
    "--organisation", default="home", show_default=True, help="Organization it belongs to."
)


@click.group("identity-provider")
def identity_provider() -> None:
    """Sign in with an organisation's own OpenID Connect provider."""


@identity_provider.command("set")
@ORGANISATION
@click.option("--issuer", required=True, help="Its identity, as its own metadata state it.")
@click.option("--client-id", required=True, help="As registered there.")
@click.option(
    "--client-secret-file", required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option("--newcomers-become", type=click.Choice(["technician"]), help="Otherwise they are turned away.")
def set_provider(
    organisation: str, issuer: str, client_id: str, client_secret_file: Path, newcomers_become: str | None
) -> None:
    """Register the provider; the redirect URI to register there is printed."""
    from service.wiring import wire

    settings = load_settings()
    services = wire(settings)
    identities.set_provider(
        services,
        identities.organisation_actor(services, organisation),
        issuer=issuer,
        client_id=client_id,
        secret=client_secret_file.read_text(encoding="utf-8").strip(),
        newcomer_role=newcomers_become,
    )
    base = settings.public_url.rstrip("/")
    click.echo(f"people sign in at {base}/sign-in/with/{organisation}")
    click.echo(f"redirect URI to register at the provider: {base}/sign-in/back")


@identity_provider.command("remove")
@ORGANISATION
def remove_provider(organisation: str) -> None:
    """Let people sign in by password alone again."""
    from service.wiring import wire

    services = wire(load_settings())
    identities.remove_provider(services, identities.organisation_actor(services, organisation))
    click.echo(f"{organisation} signs in by password")
