"""`heelmark up [--demo]`, and what `deploy/up.sh` runs once everything is installed."""

import fcntl
import os
import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from deploy.up import install as installing
from deploy.up.broker import broker_name, broker_spec
from deploy.up.console import complain, say, step, welcome
from deploy.up.credentials import broker_credentials
from deploy.up.first_run import FILE_NAME, first_run, heelmark
from deploy.up.lan import Lan, lan_chores, open_lan, tell_phones
from deploy.up.ports import ensure_free
from deploy.up.processes import (
    broker_files_spec,
    chores,
    common_environment,
    deliverer_spec,
    demo_spec,
    report_path,
    service_spec,
    watch_spec,
    worker_spec,
)
from deploy.up.refusal import StartRefused
from deploy.up.report import Report
from deploy.up.settings import UpSettings, read_settings
from deploy.up.supervisor import Supervisor

CHECKOUT = Path(__file__).resolve().parents[2]


@click.command("up")
@click.option("--demo", is_flag=True, help="Add simulated cylinders that publish over MQTT.")
@click.option("--lan", is_flag=True, help="Serve phones of the own network over HTTPS.")
@click.option("--install", is_flag=True, help="Start it with the machine from now on, by systemd.")
def command(demo: bool, lan: bool, install: bool) -> None:
    """Run all of Heelmark on this machine: database, broker, service, worker."""
    sys.exit(main(demo=demo, lan=lan, install=install))


def main(*, demo: bool, lan: bool = False, install: bool = False) -> int:
    """Run the stack until Ctrl-C or SIGTERM; 0 after a clean stop, 1 with a sentence otherwise."""
    # In a checkout the data are the checkout's; from an installed package they are the folder's where it is started.
    base = CHECKOUT if (CHECKOUT / "pyproject.toml").exists() else Path.cwd()
    os.chdir(base)
    # The data folder holds people's names, tokens and passwords: it is its owner's alone.
    os.umask(0o077)
    try:
        settings = read_settings(os.environ, demo=demo, base=base, lan=lan)
        with _alone_with(settings.data):
            if not install:
                return _run(settings)
            text = _prepare_unit(settings, base)
        installing.install(installing.place_here(), text)
        return 0
    except StartRefused as refusal:
        complain(f"Heelmark stopped: {refusal}")
        return 1


def _prepare_unit(settings: UpSettings, base: Path) -> str:
    """The unit; the first passwords are made and shown here, or they would stand in the machine's journal."""
    options = [*(["--demo"] if settings.demo else []), *(["--lan"] if settings.lan else [])]
    text = installing.unit(installing.place_here(), base, os.environ, options)
    environ = common_environment(settings, os.environ)
    heelmark(environ, "migrate")
    broker_credentials(settings.data, settings.mqtt_root)
    told, fresh = first_run(settings, environ)
    welcome(settings, told, settings.data / FILE_NAME, fresh=fresh, running=False)
    return text


def _run(settings: UpSettings) -> int:
    logs = settings.data / "log"
    logs.mkdir(exist_ok=True)
    supervisor = Supervisor(logs, say, Report(report_path(settings.data)))
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        # Somebody who started it with nohup wants it to outlive the terminal.
        if number != signal.SIGHUP or signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, lambda *_: supervisor.request_stop())
    try:
        _start(settings, supervisor)
        environ = common_environment(settings, os.environ)
        supervisor.watch([*chores(settings, environ, say), *lan_chores(settings, environ, say)])
    finally:
        say("\nStopping")
        supervisor.stop_all()
    say(f"Stopped. The data stay in {settings.data}")
    return 0


def _start(settings: UpSettings, supervisor: Supervisor) -> None:
    environ = common_environment(settings, os.environ)
    say("Starting Heelmark")
    step("data", f"{settings.data} (logs in {settings.data / 'log'})")
    ensure_free(settings.bind, settings.http_port, "HEELMARK_HTTP_PORT")
    ensure_free(settings.bind, settings.mqtt_port, "HEELMARK_MQTT_PORT")
    lan = open_lan(settings) if settings.lan else None
    environ |= lan.environment if lan is not None else {}
    heelmark(environ, "migrate")
    step("database", "at the newest schema")
    credentials = broker_credentials(settings.data, settings.mqtt_root)
    told, fresh = first_run(settings, environ)
    broker = broker_spec(settings, environ)
    worker = worker_spec(settings, credentials, environ)
    supervisor.start(broker_files_spec(settings, credentials, environ))
    supervisor.start(broker)
    step("broker", f"{broker_name(broker)} on {settings.bind}:{settings.mqtt_port}")
    if not supervisor.stopping:
        step("service", "starting")
        supervisor.start(service_spec(settings, environ))
        step("service", f"ready on {settings.base_url}")
    if lan is not None:
        _open_to_phones(lan, settings, environ, supervisor)
    if not supervisor.stopping:
        supervisor.start(watch_spec(settings, environ))
        step("watch", "noticing what time alone makes due")
        supervisor.start(worker)
        step("worker", "taking readings")
        supervisor.start(deliverer_spec(settings, environ))
        step("deliverer", "sending events to webhooks, where there are any")
    if settings.demo:
        _start_demo(settings, told, environ, supervisor)
    if not supervisor.stopping:
        welcome(settings, told, settings.data / FILE_NAME, fresh=fresh)
        if lan is not None:
            tell_phones(lan)


def _open_to_phones(
    lan: Lan, settings: UpSettings, environ: Mapping[str, str], supervisor: Supervisor
) -> None:
    for spec in lan.specs(settings, environ):
        if not supervisor.stopping:
            supervisor.start(spec)
    step("phones", lan.told)


def _start_demo(
    settings: UpSettings, told: Mapping[str, Any] | None, environ: Mapping[str, str], supervisor: Supervisor
) -> None:
    if supervisor.stopping:
        return
    if told is None:
        raise StartRefused(f"the demo needs {settings.data / FILE_NAME}, and it is gone")
    step("demo", "making and registering simulated cylinders")
    supervisor.start(demo_spec(settings, environ))
    step("demo", "publishing; verdicts appear within a minute or two")


@contextmanager
def _alone_with(data: Path) -> Iterator[None]:
    """Hold the data folder: two stacks on one folder would be two workers with one inbox."""
    try:
        data.mkdir(parents=True, exist_ok=True)
        opened = (data / "up.lock").open("a+", encoding="utf-8")
    except OSError as fault:
        raise StartRefused(
            f"the data folder {data} cannot be written ({fault.strerror}); make it writable, or name another "
            "one with HEELMARK_DATA"
        ) from fault
    with opened as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            raise StartRefused(
                f"another Heelmark is running on {data}; stop it, or name another folder with HEELMARK_DATA"
            ) from fault
        yield


if __name__ == "__main__":
    command(prog_name="deploy/up.sh")
