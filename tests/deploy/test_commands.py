"""Whatever the deployment runs and sets exists: commands, options, settings, modules."""

import importlib
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import yaml

from ingest.__main__ import main as ingest
from service.cli import cli

TOP = Path(__file__).parents[2]
DEPLOY = TOP / "deploy"


def commands() -> Iterator[list[str]]:
    compose = yaml.safe_load((DEPLOY / "compose" / "compose.yaml").read_text())
    for service in compose["services"].values():
        yield service.get("command", [])
        yield service.get("healthcheck", {}).get("test", [])[1:]
    for path in (DEPLOY / "kubernetes").glob("*.yaml"):
        for document in yaml.safe_load_all(path.read_text()):
            yield from _within(document)
    for path in (DEPLOY / "systemd").glob("*.service"):
        for line in re.findall(r"^ExecStart=/opt/heelmark/bin/(.+)$", path.read_text(), re.M):
            yield shlex.split(line)
    yield yaml.safe_load(
        re.findall(r"^CMD (.+)$", (DEPLOY / "containers/Containerfile").read_text(), re.M)[0]
    )


def _within(value: object) -> Iterator[list[str]]:
    if isinstance(value, dict):
        if isinstance(value.get("command"), list):
            yield value["command"]
        for inner in value.values():
            yield from _within(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _within(inner)


OURS = sorted(
    {tuple(map(str, c)) for c in commands() if c and c[0] in ("heelmark", "heelmark-ingest", "gunicorn")}
)


def test_there_are_some_of_each() -> None:
    assert {command[0] for command in OURS} == {"heelmark", "heelmark-ingest", "gunicorn"}


@pytest.mark.parametrize("command", OURS, ids=" ".join)
def test_the_command_exists_with_its_options(command: tuple[str, ...]) -> None:
    if command[0] == "gunicorn":
        assert command[1:] == ("--config", "python:service.serving", "service.wsgi:app")
        return
    group = cli if command[0] == "heelmark" else ingest
    name, *arguments = command[1:]
    found = group.commands[name]
    found.make_context(name, [a.replace("%S", "/tmp") for a in arguments], resilient_parsing=False)
    assert isinstance(found, click.Command)


def test_every_setting_that_is_set_is_read_somewhere() -> None:
    source = "\n".join(
        path.read_text() for folder in ("service", "ingest") for path in (TOP / folder).rglob("*.py")
    )
    known = set(re.findall(r'"(?:HEELMARK_)?([A-Z][A-Z_]{3,})"', source))
    known |= {f"{name}_FILE" for name in ("WORKER_TOKEN", "MQTT_PASSWORD")}
    used = set()
    for path in DEPLOY.rglob("*"):
        if path.suffix in (".yaml", ".service", ".example") or path.name == "Containerfile":
            used |= set(re.findall(r"HEELMARK_([A-Z_]+[A-Z])", path.read_text()))
    own = {"VERSION", "HOST", "HTTPS_PORT", "PROMETHEUS_PORT"}
    assert used - own - known == set()


def test_the_server_configuration_can_be_imported(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path))
    monkeypatch.setenv("HEELMARK_SECRET_KEY", "s" * 40)
    monkeypatch.setenv("HEELMARK_STREAM_CAP", "10")
    monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", "")
    serving = importlib.reload(importlib.import_module("service.serving"))
    assert (serving.workers, serving.threads, serving.bind) == (1, 26, "127.0.0.1:8642")
    monkeypatch.setenv("HEELMARK_DATABASE_URL", "postgresql://x@y/z")
    assert importlib.reload(serving).workers == 2
    serving.on_exit(None)
