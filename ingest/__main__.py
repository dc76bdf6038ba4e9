"""Command line of the worker: `python -m ingest run`, and what became of pairs the service would not take."""

from __future__ import annotations

import logging
import sys
import time
from datetime import UTC, datetime

import click
import structlog

from ingest.runtime.replay import replay_posted, replay_set_aside, set_aside_list
from ingest.runtime.settings import BadSettings, Settings, read_settings
from ingest.runtime.wiring import database_path, run

FORMATS = ("%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d")


def _settings() -> Settings:
    try:
        return read_settings()
    except BadSettings as error:
        raise click.ClickException(f"settings:\n{error}") from error


@click.group()
def main() -> None:
    """Turn readings on a broker into equilibrium pairs for the service."""


@main.command("run")
def run_command() -> None:
    """Run the worker until SIGTERM or Ctrl-C."""
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            structlog.processors.LogfmtRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
    sys.exit(run(_settings()))


@main.group("set-aside")
def set_aside() -> None:
    """Pairs that the service refused for good."""


@set_aside.command("list")
def list_command() -> None:
    """Show each pair set aside, with the service's last answer."""
    rows = set_aside_list(database_path(_settings()))
    for key, body, attempts, answer in rows:
        click.echo(f"{key}  tried {attempts} times\n  {body}\n  {answer}")
    click.echo(f"{len(rows)} set aside")


@set_aside.command("replay")
@click.argument("keys", nargs=-1)
def replay_command(keys: tuple[str, ...]) -> None:
    """Send pairs again: those whose KEYS are given, or all."""
    count = replay_set_aside(database_path(_settings()), keys, time.time())
    click.echo(f"{count} will be sent again")


@main.group("posted")
def posted() -> None:
    """Pairs that the service has taken; each is remembered for a week."""


@posted.command("replay")
@click.option(
    "--since",
    required=True,
    type=click.DateTime(FORMATS),
    help="The backup's time, UTC.",
)
def replay_posted_command(since: datetime) -> None:
    """Send pairs again to a service that was restored from a backup; it stores none of them twice."""
    count = replay_posted(database_path(_settings()), since.replace(tzinfo=UTC).timestamp(), time.time())
    click.echo(f"{count} will be sent again")


if __name__ == "__main__":
    main()
