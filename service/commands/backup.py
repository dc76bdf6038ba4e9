"""``heelmark backup`` and ``heelmark restore``."""

from datetime import UTC, datetime
from pathlib import Path

import click

from service.settings import load_settings
from service.store import backup as files

PATTERN = "heelmark-*.jsonl.gz"


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--keep", type=click.IntRange(1), help="In a folder, how many of the newest stay.")
def backup(target: Path, keep: int | None) -> None:
    """Write a backup to a file, or into a folder under the time of day; the service may go on running."""
    now = datetime.now(UTC)
    folder = target if target.is_dir() else None
    path = target / f"heelmark-{now:%Y%m%dT%H%M%S}Z.jsonl.gz" if folder else target
    counts = files.write(load_settings().database_url, path, now)
    files.check(path)
    click.echo(f"wrote {path}: {sum(counts.values())} rows of {len(counts)} tables")
    if folder and keep:
        for old in sorted(folder.glob(PATTERN))[:-keep]:
            old.unlink()
            click.echo(f"removed {old}")


@click.command()
@click.argument("source", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def restore(source: Path) -> None:
    """Fill an empty database from a backup, of SQLite or PostgreSQL, of this version or an earlier one."""
    try:
        counts = files.restore(load_settings().database_url, source)
    except files.UnusableBackup as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"restored {sum(counts.values())} rows of {len(counts)} tables")
