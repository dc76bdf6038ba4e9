"""The children of the stack besides the broker: service, ingest worker, demo."""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from deploy.up.broker import access_folder, broker_files_environment
from deploy.up.child import ChildSpec
from deploy.up.chores import Chore
from deploy.up.credentials import BrokerCredentials
from deploy.up.first_run import heelmark_command, worker_token_path
from deploy.up.ports import answers_ok
from deploy.up.settings import UpSettings

BACKUPS_KEPT = 14


def common_environment(settings: UpSettings, environ: Mapping[str, str]) -> dict[str, str]:
    """Return what every child is told."""
    return {
        **environ,
        "HEELMARK_BIND": settings.bind,
        "HEELMARK_DATA": str(settings.data),
        "HEELMARK_HTTP_PORT": str(settings.http_port),
        "HEELMARK_MQTT_PORT": str(settings.mqtt_port),
        "HEELMARK_STACK_REPORT": str(report_path(settings.data)),
        "HEELMARK_TIME_ZONE": settings.time_zone,
        "PYTHONUNBUFFERED": "1",
    }


def report_path(data: Path) -> Path:
    """Return where the supervisor tells the service of its processes."""
    return data / "stack.json"


def service_spec(settings: UpSettings, environ: Mapping[str, str]) -> ChildSpec:
    """Serve API and board as every deployment does; an open board does not hold up the stop."""
    host, port = settings.reachable_host, settings.http_port
    return ChildSpec(
        name="service",
        argv=[
            *(sys.executable, "-m", "gunicorn", "--config", "python:service.serving"),
            *("--graceful-timeout", "5", "service.wsgi:app"),
        ],
        env=environ,
        ready=lambda: answers_ok(host, port, "/readyz?part=serving"),
        answers=lambda: answers_ok(host, port, "/healthz", timeout_s=20.0),
        ready_within_s=60.0,
        stop_within_s=15.0,
        essential=True,
    )


def worker_spec(
    settings: UpSettings, credentials: BrokerCredentials, environ: Mapping[str, str]
) -> ChildSpec:
    """Run the ingest worker: readings from the broker in, equilibrium pairs to the service out."""
    folder = settings.data / "worker"
    return ChildSpec(
        name="worker",
        argv=[sys.executable, "-m", "ingest", "run"],
        env={
            **environ,
            "HEELMARK_SERVICE_URL": settings.base_url,
            "HEELMARK_WORKER_TOKEN_FILE": str(worker_token_path(settings.data)),
            "HEELMARK_WORKER_DATA": str(folder),
            "HEELMARK_MQTT_HOST": settings.reachable_host,
            "HEELMARK_MQTT_VERSION": "3.1.1",
            "HEELMARK_MQTT_USER": credentials.worker_user,
            "HEELMARK_MQTT_PASSWORD": credentials.worker_password,
            "HEELMARK_MQTT_ROOT": settings.mqtt_root,
        },
        pulse=folder / "status.json",
        stop_within_s=20.0,
    )


def deliverer_spec(settings: UpSettings, environ: Mapping[str, str]) -> ChildSpec:
    """Send events to the webhooks of fleet systems, where there are any."""
    pulse = settings.data / "deliverer.pulse"
    return ChildSpec(
        name="deliverer",
        argv=[heelmark_command(), "deliver", "--pulse", str(pulse)],
        env=environ,
        pulse=pulse,
        stop_within_s=30.0,
    )


def watch_spec(settings: UpSettings, environ: Mapping[str, str]) -> ChildSpec:
    """Raise what time alone makes due, and forget every night what is not kept."""
    pulse = settings.data / "watch.pulse"
    return ChildSpec(
        name="watch",
        argv=[heelmark_command(), "watch", "--pulse", str(pulse)],
        env=environ,
        pulse=pulse,
    )


def broker_files_spec(
    settings: UpSettings, credentials: BrokerCredentials, environ: Mapping[str, str]
) -> ChildSpec:
    """Write the broker's users and rights, and keep them in step with the devices' and gateways' credentials."""
    pulse = settings.data / "broker" / "access.pulse"
    folder = str(access_folder(settings))
    return ChildSpec(
        name="broker-files",
        argv=[heelmark_command(), "broker-files", "--directory", folder, "--watch", "--pulse", str(pulse)],
        env=broker_files_environment(settings, credentials, environ),
        pulse=pulse,
    )


def demo_spec(settings: UpSettings, environ: Mapping[str, str]) -> ChildSpec:
    """Register and publish the simulated cylinders."""
    return ChildSpec(
        name="demo",
        argv=[sys.executable, "-m", "demo", "run"],
        env=environ,
        pulse=settings.data / "demo" / "clock.json",
        ready_within_s=90.0,
        hung_after_s=180.0,
    )


def chores(settings: UpSettings, environ: Mapping[str, str], say: Callable[[str], None]) -> list[Chore]:
    """Return what is done every night: a backup into the data folder, of which 14 are kept."""
    command = [heelmark_command(), "backup", str(settings.data / "backups"), "--keep", str(BACKUPS_KEPT)]
    return [
        Chore(
            ChildSpec(name="backup", argv=command, env=environ),
            stamp=settings.data / "backup.done",
            log_folder=settings.data / "log",
            say=say,
        )
    ]
