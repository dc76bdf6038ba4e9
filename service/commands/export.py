"""``heelmark export``: data that may leave the shop."""

from pathlib import Path

import click

from service.operations import bootstrap, field_data
from service.settings import load_settings


@click.group("export")
def export() -> None:
    """Data that may leave the shop."""


@export.command("field-data")
@click.option("--organisation", default="home", show_default=True, help="Organisation.")
@click.option(
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    required=True,
    help="Folder for the package.",
)
def field_data_command(organisation: str, output: Path) -> None:
    """Write settled readings and what cylinders turned out to hold, without names, as a data package."""
    from service.wiring import wire

    services = wire(load_settings())
    found = bootstrap.organisation_id(services, organisation)
    if found is None:
        raise click.ClickException(f"there is no organisation {organisation}")
    files = field_data.package(services, bootstrap.system_actor(found))
    output.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (output / name).write_text(text, encoding="utf-8", newline="")
    rows = {name: text.count("\r\n") - 1 for name, text in files.items() if name.endswith(".csv")}
    told = ", ".join(f"{count} {name.removesuffix('.csv')}" for name, count in rows.items())
    click.echo(f"wrote {told} to {output}; no names, places, serials or times of day are in it")
