"""``heelmark backup`` and ``heelmark restore``."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import click
from sqlalchemy.exc import SQLAlchemyError

from service.operations import backups
from service.operations.context import Services
from service.settings import load_settings
from service.store import backup as files

PATTERN = "heelmark-*.jsonl.gz"


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@click.option(
    "--keep", type=click.IntRange(1), help="TARGET is a folder, made if need be; so many stay in it."
)
def backup(target: Path, keep: int | None) -> None:
    """Write a backup to a file, or into a folder under the time of day; the service may go on running."""
    url = load_settings().database_url
    try:
        path = _write(url, target, into_folder=keep is not None or target.is_dir())
    except (OSError, SQLAlchemyError, files.UnusableBackup) as fault:
        why = f"{target}: {getattr(fault, 'strerror', None) or fault}."
        _note(lambda services: backups.failed(services, why))
        raise click.ClickException(f"the backup failed: {why}") from None
    _note(backups.succeeded)
    if keep is not None:
        for old in sorted(path.parent.glob(PATTERN))[:-keep]:
            old.unlink()
            click.echo(f"removed {old}")


def _write(url: str, target: Path, *, into_folder: bool) -> Path:
    now = datetime.now(UTC)
    if into_folder:
        target.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = target / f"heelmark-{now:%Y%m%dT%H%M%S}Z.jsonl.gz" if into_folder else target
    counts = files.write(url, path, now)
    files.check(path)
    click.echo(f"wrote {path}: {sum(counts.values())} rows of {len(counts)} tables")
    return path


def _note(note: Callable[[Services], None]) -> None:
    """Have people told; where the database cannot be written the board and the command still say it."""
    from service.wiring import wire

    services = wire(load_settings())
    try:
        note(services)
    except Exception as fault:
        click.echo(f"nobody could be told: {type(fault).__name__}", err=True)
    services.database.dispose()


@click.command()
@click.argument("source", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def restore(source: Path) -> None:
    """Fill an empty database from a backup, of SQLite or PostgreSQL, of this version or an earlier one."""
    try:
        counts = files.restore(load_settings().database_url, source)
    except files.UnusableBackup as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"restored {sum(counts.values())} rows of {len(counts)} tables")
