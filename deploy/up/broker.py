"""The embedded broker: a mosquitto of its own when one is on the path, otherwise amqtt.

Either way: bound to one address, no anonymous clients. Gateways may publish readings and hear what was
refused; the worker may take readings and publish what it refused; nobody may do more.
"""

import getpass
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from argon2 import PasswordHasher

from deploy.up.child import ChildSpec
from deploy.up.credentials import (
    GATEWAY_USER,
    WORKER_USER,
    BrokerCredentials,
    write_private,
    write_private_text,
)
from deploy.up.ports import accepts_connections
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings

# Debian puts the broker where an ordinary user's path does not look.
SYSTEM_FOLDERS = "/usr/sbin:/usr/local/sbin:/opt/homebrew/sbin"
# While the worker is away the broker queues for it; past mosquitto's default of 1,000 it drops silently.
QUEUED_MESSAGES = 500_000


def broker_spec(
    settings: UpSettings, credentials: BrokerCredentials, environ: Mapping[str, str]
) -> ChildSpec:
    """Write the broker's configuration under the data folder and say how to run it.

    Raises
    ------
    StartRefused
        When mosquitto is asked for by name and there is none.
    """
    folder = settings.data / "broker"
    folder.mkdir(parents=True, exist_ok=True)
    mosquitto = _find("mosquitto", environ) if settings.broker in ("auto", "mosquitto") else None
    if settings.broker == "mosquitto" and mosquitto is None:
        raise StartRefused(
            "HEELMARK_BROKER is mosquitto, and no mosquitto is on the path; install it or unset it"
        )
    if mosquitto is not None:
        argv = [mosquitto, "-c", str(_mosquitto_configuration(folder, settings, credentials, environ))]
    else:
        argv = [
            sys.executable,
            "-m",
            "deploy.up.amqtt_broker",
            str(_amqtt_configuration(folder, settings, credentials)),
        ]
    return ChildSpec(
        name="broker",
        argv=argv,
        env=environ,
        ready=lambda: accepts_connections(settings.reachable_host, settings.mqtt_port),
        ready_within_s=20.0,
    )


def broker_name(spec: ChildSpec) -> str:
    """Name the program, for the person."""
    return "mosquitto" if Path(spec.argv[0]).name == "mosquitto" else "amqtt"


def _find(program: str, environ: Mapping[str, str]) -> str | None:
    return shutil.which(program, path=os.pathsep.join((environ.get("PATH", ""), SYSTEM_FOLDERS)))


def _rights(root: str) -> dict[str, dict[str, list[str]]]:
    readings, refused = f"{root}/+/readings/+", f"{root}/+/refused/+"
    return {
        GATEWAY_USER: {"write": [readings], "read": [refused]},
        WORKER_USER: {"write": [refused], "read": [readings]},
    }


def _mosquitto_configuration(
    folder: Path, settings: UpSettings, credentials: BrokerCredentials, environ: Mapping[str, str]
) -> Path:
    passwords, rights = folder / "mosquitto.passwords", folder / "mosquitto.acl"
    write_private_text(
        passwords,
        f"{GATEWAY_USER}:{credentials.gateway_password}\n{WORKER_USER}:{credentials.worker_password}\n",
    )
    _hash_passwords(passwords, environ)
    write_private_text(rights, _mosquitto_rights(settings.mqtt_root))
    configuration = folder / "mosquitto.conf"
    lines = [
        f"listener {settings.mqtt_port} {settings.bind}",
        "allow_anonymous false",
        f"password_file {passwords}",
        f"acl_file {rights}",
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


def _mosquitto_rights(root: str) -> str:
    lines = []
    for user, topics in _rights(root).items():
        lines.append(f"user {user}")
        lines += [f"topic {kind} {topic}" for kind, allowed in topics.items() for topic in allowed]
    return "\n".join(lines) + "\n"


def _hash_passwords(passwords: Path, environ: Mapping[str, str]) -> None:
    tool = _find("mosquitto_passwd", environ)
    if tool is None:
        raise StartRefused(
            "mosquitto is on the path but mosquitto_passwd is not; install it, or set HEELMARK_BROKER=amqtt"
        )
    # -U hashes the file in place; a password given as an argument would show in the process list.
    done = subprocess.run([tool, "-U", str(passwords)], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise StartRefused(f"mosquitto_passwd failed: {done.stderr.strip() or done.stdout.strip()}")


def _amqtt_configuration(folder: Path, settings: UpSettings, credentials: BrokerCredentials) -> Path:
    hasher = PasswordHasher()
    passwords = folder / "amqtt.passwords"
    write_private_text(
        passwords,
        f"{GATEWAY_USER}:{hasher.hash(credentials.gateway_password)}\n"
        f"{WORKER_USER}:{hasher.hash(credentials.worker_password)}\n",
    )
    rights = _rights(settings.mqtt_root)
    configuration = folder / "amqtt.json"
    write_private(
        configuration,
        {
            "listeners": {"default": {"type": "tcp", "bind": f"{settings.bind}:{settings.mqtt_port}"}},
            "plugins": {
                "amqtt.plugins.authentication.FileAuthPlugin": {"password_file": str(passwords)},
                "amqtt.plugins.topic_checking.TopicAccessControlListPlugin": {
                    "publish_acl": {user: topics["write"] for user, topics in rights.items()},
                    "acl": {user: topics["read"] for user, topics in rights.items()},
                },
            },
        },
    )
    return configuration
