"""``heelmark broker-files``: keep the broker's users and rights in step with the devices' credentials."""

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import click
import structlog
from environs import Env

from service.logs import configure_logs
from service.operations import device_credentials
from service.operations.context import Services
from service.outbound.broker_access import acl_file, password_file
from service.settings import load_settings

LOOK_EVERY_S = 2.0

log = structlog.get_logger(__name__)


@click.command("broker-files")
@click.option("--directory", required=True, type=click.Path(file_okay=False, path_type=Path))
@click.option("--watch", is_flag=True, help="Go on writing whenever something changes.")
@click.option("--signal", "program", help="Name of the broker's program, told to read its files again.")
def broker_files(directory: Path, watch: bool, program: str | None) -> None:
    """Write Mosquitto's password and access files: the worker, and a user for every device."""
    from service.wiring import wire

    configure_logs()
    env = Env()
    user = env.str("HEELMARK_MQTT_USER", "worker")
    password = _worker_password(env)
    root = env.str("HEELMARK_MQTT_ROOT", "heelmark")
    services = wire(load_settings())
    stopping = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stopping.set())
    while True:
        try:
            if write(services, directory, root, user, password) and program is not None:
                log.info("broker told", processes=tell(program))
        except Exception:
            if not watch:
                raise
            log.exception("broker files not written")
        if not watch or stopping.wait(LOOK_EVERY_S):
            return


def write(services: Services, directory: Path, root: str, user: str, password: str) -> bool:
    """Write what differs, each file as a whole; true when anything did."""
    users = device_credentials.broker_users(services, root, user, password)
    directory.mkdir(parents=True, exist_ok=True)
    changed = False
    for name, text in (("passwords", password_file(users)), ("acl", acl_file(users))):
        path = directory / name
        if path.exists() and path.read_text(encoding="utf-8") == text:
            continue
        draft = directory / f".{name}"
        draft.unlink(missing_ok=True)
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
            stream.write(text)
        draft.replace(path)
        changed = True
    return changed


def tell(program: str) -> list[int]:
    """Send SIGHUP to the processes of that name that we may signal; answers which."""
    told = []
    for process in _named(program):
        try:
            os.kill(process, signal.SIGHUP)
        except (ProcessLookupError, PermissionError):
            continue
        told.append(process)
    return told


def _named(program: str) -> Iterator[int]:
    for entry in Path("/proc").glob("[0-9]*/comm"):
        try:
            if entry.read_text(encoding="utf-8").strip() == program[:15]:
                yield int(entry.parent.name)
        except OSError:
            continue


def _worker_password(env: Env) -> str:
    path = env.str("HEELMARK_MQTT_PASSWORD_FILE", "")
    password = (
        Path(path).read_text(encoding="utf-8").strip() if path else env.str("HEELMARK_MQTT_PASSWORD", "")
    )
    if len(password) < 16:
        raise click.ClickException(
            "HEELMARK_MQTT_PASSWORD or HEELMARK_MQTT_PASSWORD_FILE: "
            "expected the worker's password, 16 characters or more"
        )
    return password
