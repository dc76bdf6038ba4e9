"""The first start makes organisation, administrator and tokens; later ones bring addresses up to date."""

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from deploy.up.credentials import write_private, write_private_text
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings

SCRIPT_SCOPES = ("technician", "supervisor", "reader")
FILE_NAME = "first-run.json"


def worker_token_path(data: Path) -> Path:
    """Where the worker's bearer token is kept (mode 0600)."""
    return data / "worker" / "token"


def heelmark_command() -> str:
    """Where the environment keeps the service's own command."""
    return str(Path(sys.executable).with_name("heelmark"))


def heelmark(environ: Mapping[str, str], *arguments: str) -> str:
    """Run one of the service's own commands and return what it printed.

    Raises
    ------
    StartRefused
        When it fails, with what it said.
    """
    done = subprocess.run(
        [heelmark_command(), *arguments],
        env=dict(environ),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        said = (done.stderr.strip() or done.stdout.strip()).splitlines()[-5:]
        raise StartRefused(f"`heelmark {' '.join(arguments)}` failed: " + "\n    | ".join(said))
    return done.stdout


def first_run(settings: UpSettings, environ: Mapping[str, str]) -> tuple[dict[str, Any] | None, bool]:
    """Set the installation up if it is new, and write `first-run.json` (mode 0600).

    Returns
    -------
    tuple[dict or None, bool]
        What `first-run.json` holds, none when somebody has taken it away; and whether it was made just now.
    """
    path = settings.data / FILE_NAME
    if path.exists():
        told = json.loads(path.read_text(encoding="utf-8"))
        fresh = False
    else:
        printed = heelmark(environ, "first-run").strip()
        fresh = bool(printed)
        told = _keep_worker_token(settings.data, json.loads(printed)) if fresh else None
    if not worker_token_path(settings.data).exists():
        secret = heelmark(environ, "token", "create", "worker", "--scope", "worker").strip()
        write_private_text(worker_token_path(settings.data), secret + "\n")
    if told is not None:
        told = {**told, "base_url": settings.base_url, "mqtt": {**told["mqtt"], **_broker(settings)}}
        write_private(path, told)
    return told, fresh


def _keep_worker_token(data: Path, told: dict[str, Any]) -> dict[str, Any]:
    tokens = told["tokens"]
    write_private_text(worker_token_path(data), tokens["worker"] + "\n")
    return {**told, "tokens": {scope: tokens[scope] for scope in SCRIPT_SCOPES}}


def _broker(settings: UpSettings) -> dict[str, Any]:
    return {"host": settings.reachable_host, "port": settings.mqtt_port, "root": settings.mqtt_root}
