"""The embedded broker: a mosquitto of its own when one is on the path, otherwise amqtt.

Either way: bound to one address, no anonymous clients, and users and rights as `heelmark broker-files` writes them:
a gateway publishes for its place, a device for itself, the worker takes readings and says what it refused. A client's
id is its user's name, so that nobody can take another's session.
"""

import getpass
import json
import os
import shutil
import sys
import time
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

from deploy.up.child import ChildSpec
from deploy.up.credentials import (
    SHARED_GATEWAY,
    BrokerCredentials,
    write_private,
    write_private_text,
)
from deploy.up.ports import accepts_connections, answers_mqtt
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings

# Debian puts the broker where an ordinary user's path does not look.
SYSTEM_FOLDERS = "/usr/sbin:/usr/local/sbin:/opt/homebrew/sbin"
# While the worker is away the broker queues for it; past mosquitto's default of 1,000 it drops silently.
QUEUED_MESSAGES = 500_000
# A pack of readings is some hundred bytes. A larger message is dropped; far larger ones end the connection unread.
LARGEST_MESSAGE = 262_144
LARGEST_PACKET = 4 * LARGEST_MESSAGE
WORKER_SPEAKS_WITHIN_S = 10.0


def broker_spec(settings: UpSettings, environ: Mapping[str, str]) -> ChildSpec:
    """Write the broker's configuration under the data folder and say how to run it.

    Raises
    ------
    StartRefused
        When mosquitto is asked for by name and there is none, or there is no broker at all.
    """
    folder = settings.data / "broker"
    folder.mkdir(parents=True, exist_ok=True)
    mosquitto = _find("mosquitto", environ) if settings.broker in ("auto", "mosquitto") else None
    if settings.broker == "mosquitto" and mosquitto is None:
        raise StartRefused(
            "HEELMARK_BROKER is mosquitto, and no mosquitto is on the path; install it or unset it"
        )
    if mosquitto is not None:
        argv = [mosquitto, "-c", str(_mosquitto_configuration(folder, settings))]
    elif find_spec("amqtt") is None:
        raise StartRefused(
            "there is no broker: install mosquitto, or what Heelmark brings along: pip install 'heelmark[demo]'"
        )
    else:
        argv = [sys.executable, "-m", "deploy.up.amqtt_broker", str(_amqtt_configuration(folder, settings))]
    return ChildSpec(
        name="broker",
        argv=argv,
        env=environ,
        ready=lambda: accepts_connections(settings.reachable_host, settings.mqtt_port),
        answers=lambda: (
            worker_is_connected(settings.data) or answers_mqtt(settings.reachable_host, settings.mqtt_port)
        ),
        ready_within_s=20.0,
        reread=tuple(access_folder(settings) / name for name in ("passwords", "acl")),
    )


def worker_is_connected(data: Path) -> bool:
    """Whether the worker has just now said that the broker answers it: then nobody needs to ask."""
    path = data / "worker" / "status.json"
    try:
        fresh = time.time() - path.stat().st_mtime < WORKER_SPEAKS_WITHIN_S
        return fresh and json.loads(path.read_text(encoding="utf-8"))["connected"] is True
    except (OSError, ValueError, KeyError):
        return False


def access_folder(settings: UpSettings) -> Path:
    """Where the files of users and rights are, which the broker reads and `heelmark broker-files` writes."""
    return settings.data / "broker" / "access"


def broker_files_environment(
    settings: UpSettings, credentials: BrokerCredentials, environ: Mapping[str, str]
) -> dict[str, str]:
    """Return what `heelmark broker-files` is told of the installation's own users."""
    own = {
        "HEELMARK_MQTT_ROOT": settings.mqtt_root,
        "HEELMARK_MQTT_USER": credentials.worker_user,
        "HEELMARK_MQTT_PASSWORD": credentials.worker_password,
    }
    if credentials.gateway_password is not None:
        own["HEELMARK_MQTT_SHARED_GATEWAY"] = SHARED_GATEWAY
        own["HEELMARK_MQTT_SHARED_GATEWAY_PASSWORD"] = credentials.gateway_password
    return {**environ, **own}


def broker_name(spec: ChildSpec) -> str:
    """Name the program, for the person."""
    return "mosquitto" if Path(spec.argv[0]).name == "mosquitto" else "amqtt"


def _find(program: str, environ: Mapping[str, str]) -> str | None:
    return shutil.which(program, path=os.pathsep.join((environ.get("PATH", ""), SYSTEM_FOLDERS)))


def _mosquitto_configuration(folder: Path, settings: UpSettings) -> Path:
    access = access_folder(settings)
    configuration = folder / "mosquitto.conf"
    lines = [
        f"listener {settings.mqtt_port} {settings.bind}",
        "use_username_as_clientid true",
        "allow_anonymous false",
        f"password_file {access / 'passwords'}",
        f"acl_file {access / 'acl'}",
        f"message_size_limit {LARGEST_MESSAGE}",
        f"max_packet_size {LARGEST_PACKET}",
        # Started by root it would become another user, who cannot read this folder.
        f"user {getpass.getuser()}",
        "persistence true",
        f"persistence_location {folder}{os.sep}",
        "autosave_interval 5",
        f"max_queued_messages {QUEUED_MESSAGES}",
        "log_dest stdout",
        *(f"log_type {kind}" for kind in ("error", "warning", "notice")),
        "log_timestamp_format %Y-%m-%dT%H:%M:%S",
    ]
    write_private_text(configuration, "\n".join(lines) + "\n")
    return configuration


def _amqtt_configuration(folder: Path, settings: UpSettings) -> Path:
    configuration = folder / "amqtt.json"
    write_private(
        configuration,
        {
            "access": str(access_folder(settings)),
            "listeners": {"default": {"type": "tcp", "bind": f"{settings.bind}:{settings.mqtt_port}"}},
        },
    )
    return configuration
