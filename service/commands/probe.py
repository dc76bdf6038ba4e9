"""``heelmark probe``: a health check that needs nothing but the package itself."""

import time
from pathlib import Path

import click
import requests

OLDEST_S = 60.0


@click.command()
@click.argument("target")
def probe(target: str) -> None:
    """Succeed when a URL answers 2xx, or a file was touched within the last minute."""
    if target.startswith(("http://", "https://")):
        try:
            status = requests.get(target, timeout=8, allow_redirects=False).status_code
        except requests.RequestException as error:
            raise click.ClickException(f"{target}: {type(error).__name__}") from None
        if not 200 <= status < 300:
            raise click.ClickException(f"{target} answered {status}")
        return
    try:
        age = time.time() - Path(target).stat().st_mtime
    except OSError as error:
        raise click.ClickException(f"{target}: {error.strerror}") from None
    if age > OLDEST_S:
        raise click.ClickException(f"{target} is {age:.0f} s old")
