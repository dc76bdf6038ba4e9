"""``heelmark broker-files``: keep the broker's users and rights in step with the devices' credentials."""

import os
import signal
import threading
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

import click
import structlog
from environs import Env

from service.logs import configure_logs
from service.operations import device_credentials
from service.operations.device_credentials import SiteUser
from service.operations.support.context import Services
from service.outbound.broker_access import acl_file, password_file, shared_gateway_user, worker_user
from service.settings import load_settings

LOOK_EVERY_S = 2.0

log = structlog.get_logger(__name__)


@click.command("broker-files")
@click.option("--directory", required=True, type=click.Path(file_okay=False, path_type=Path))
@click.option("--watch", is_flag=True, help="Go on writing whenever something changes.")
@click.option("--signal", "program", help="Name of the broker's program, told to read its files again.")
@click.option("--pulse", type=click.Path(dir_okay=False, path_type=Path), help="Touched in every round.")
@click.option(
    "--worker",
    "workers",
    multiple=True,
    help="A worker's user, several times for several workers; HEELMARK_MQTT_USER otherwise.",
)
def broker_files(
    directory: Path, watch: bool, program: str | None, pulse: Path | None, workers: tuple[str, ...]
) -> None:
    """Write Mosquitto's password and access files: the workers, and a user for every device and gateway."""
    from service.wiring import wire

    configure_logs()
    env = Env()
    root = env.str("HEELMARK_MQTT_ROOT", "heelmark")
    site = site_users(env, workers or (env.str("HEELMARK_MQTT_USER", "worker"),))
    services = wire(load_settings())
    stopping = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stopping.set())
    while True:
        try:
            if write(services, directory, root, site) and program is not None:
                log.info("broker_files.told", processes=tell(program))
        except Exception:
            if not watch:
                raise
            log.exception("broker_files.not_written")
        if pulse is not None:
            with suppress(OSError):
                pulse.touch()
        if not watch or stopping.wait(LOOK_EVERY_S):
            return


def site_users(env: Env, workers: Iterable[str]) -> list[SiteUser]:
    """The installation's own users: workers, and the gateway that an installation of version 0.1 shared."""
    password = _password(env, "HEELMARK_MQTT_PASSWORD")
    users = [SiteUser(name, password, worker_user) for name in workers]
    shared = env.str("HEELMARK_MQTT_SHARED_GATEWAY", "")
    if shared:
        users.append(
            SiteUser(shared, _password(env, "HEELMARK_MQTT_SHARED_GATEWAY_PASSWORD"), shared_gateway_user)
        )
    return users


def write(services: Services, directory: Path, root: str, site: Iterable[SiteUser]) -> bool:
    """Write what differs, each file as a whole; true when anything did."""
    known = _known(directory / "passwords")
    users = device_credentials.broker_users(services, root, site, known)
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


def _known(passwords: Path) -> dict[str, str]:
    try:
        lines = passwords.read_text(encoding="utf-8").splitlines()
    except OSError:
        return {}
    return {user: hashed for user, _, hashed in (line.partition(":") for line in lines)}


def _password(env: Env, name: str) -> str:
    path = env.str(f"{name}_FILE", "")
    password = Path(path).read_text(encoding="utf-8").strip() if path else env.str(name, "")
    if len(password) < 16:
        raise click.ClickException(f"{name} or {name}_FILE: expected a password of 16 characters or more")
    return password
