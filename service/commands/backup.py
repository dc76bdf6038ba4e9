"""``heelmark backup`` and ``heelmark restore``."""

import math
import signal
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import click
from sqlalchemy.exc import SQLAlchemyError

from service.operations import backups
from service.operations.support.context import Services
from service.settings import load_settings
from service.store import backup as files
from service.store import migrate as migrations

PATTERN = "heelmark-*.jsonl.gz"
LOOK_EVERY_S = 1.0
AGAIN_AFTER_S = 3600.0
"""After one that failed."""
WAIT = click.option(
    "--wait-s", type=float, default=0.0, help="So long for a database server that does not answer yet [s]."
)


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@click.option(
    "--keep", type=click.IntRange(1), help="TARGET is a folder, made if need be; so many stay in it."
)
@click.option(
    "--every-hours",
    type=click.FloatRange(0.0, 168.0, min_open=True),
    help="TARGET is a folder; stay, and make one whenever the newest in it is so old.",
)
def backup(target: Path, keep: int | None, every_hours: float | None) -> None:
    """Write a backup to a file, or into a folder under the time of day; the service may go on running."""
    if every_hours is None:
        make(target, keep, into_folder=keep is not None or target.is_dir())
        return
    stopping = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stopping.set())
    make_again_and_again(target, keep, 3600.0 * every_hours, stopping)


def make(target: Path, keep: int | None, *, into_folder: bool) -> None:
    """Make one backup and have people told how it went; ``ClickException`` when it failed."""
    try:
        path = _write(load_settings().database_url, target, into_folder=into_folder)
    except (OSError, SQLAlchemyError, files.UnusableBackup) as fault:
        why = f"{target}: {getattr(fault, 'strerror', None) or fault}."
        _note(lambda services: backups.failed(services, why))
        raise click.ClickException(f"the backup failed: {why}") from None
    _note(backups.succeeded)
    if keep is not None:
        for old in sorted(path.parent.glob(PATTERN))[:-keep]:
            old.unlink()
            click.echo(f"removed {old}")


def make_again_and_again(folder: Path, keep: int | None, every_s: float, stopping: threading.Event) -> None:
    """Make one whenever the newest in the folder is older than `every_s` [s], until told to stop."""
    not_before = 0.0
    while not stopping.is_set():
        if time.monotonic() >= not_before and _newest_age_s(folder) >= every_s:
            not_before = time.monotonic() + min(every_s, AGAIN_AFTER_S)
            try:
                make(folder, keep, into_folder=True)
            except click.ClickException as fault:
                fault.show()
        stopping.wait(LOOK_EVERY_S)


def _newest_age_s(folder: Path) -> float:
    """Age of the newest backup in a folder, [s]; infinite where there is none, and where its time has not come."""
    made = max((path.stat().st_mtime for path in folder.glob(PATTERN)), default=None)
    age = math.inf if made is None else time.time() - made
    return age if age >= 0.0 else math.inf


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
@WAIT
def restore(source: Path, wait_s: float) -> None:
    """Fill an empty database from a backup, of SQLite or PostgreSQL, of this version or an earlier one."""
    url = load_settings().database_url
    if wait_s > 0.0:
        migrations.wait_for(url, wait_s)
    try:
        counts = files.restore(url, source)
    except files.UnusableBackup as error:
        raise click.ClickException(str(error)) from None
    click.echo(f"restored {sum(counts.values())} rows of {len(counts)} tables")
