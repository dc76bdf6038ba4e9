"""The compose file against the Compose Specification's schema and our own rules."""

import json
import os
import re
import shutil
import stat
import subprocess
from pathlib import Path

import jsonschema
import pytest
import yaml

DEPLOY = Path(__file__).parents[2] / "deploy"
SCHEMA = json.loads((Path(__file__).parent / "schemas" / "compose-spec.json").read_text())
COMPOSE = yaml.safe_load((DEPLOY / "compose" / "compose.yaml").read_text())
SERVICES = COMPOSE["services"]


def test_the_file_fits_the_specification() -> None:
    jsonschema.Draft201909Validator(SCHEMA).validate(COMPOSE)


@pytest.mark.parametrize("name", SERVICES)
def test_every_service_is_locked_down(name: str) -> None:
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert int(service["user"].partition(":")[0]) > 0


def test_only_the_proxy_and_the_broker_are_reachable_from_outside() -> None:
    published = {name: port for name, service in SERVICES.items() for port in service.get("ports", [])}
    assert published.keys() == {"proxy", "broker", "prometheus"}
    assert published["prometheus"].startswith("127.0.0.1:")


def test_it_has_a_name_builds_its_image_and_is_probed_for_what_it_serves() -> None:
    assert COMPOSE["name"] == "heelmark"
    for name, service in SERVICES.items():
        if "heelmark" in service["image"]:
            assert (
                DEPLOY / "compose" / service["build"]["context"] / service["build"]["dockerfile"]
            ).exists(), name
    assert SERVICES["service"]["healthcheck"]["test"][-1].endswith("/readyz?part=serving")


def test_every_figure_that_the_alerts_need_is_served_and_scraped() -> None:
    scraped = yaml.safe_load((DEPLOY / "monitoring" / "prometheus.yaml").read_text())
    targets = {
        target
        for job in scraped["scrape_configs"]
        for one in job["static_configs"]
        for target in one["targets"]
    }
    deliverer, worker = SERVICES["deliverer"]["command"], SERVICES["worker"]["environment"]
    served = {
        "service:8642",
        f"deliverer:{deliverer[deliverer.index('--metrics-port') + 1]}",
        f"worker:{worker['HEELMARK_WORKER_METRICS_PORT']}",
    }
    assert targets == served
    assert "0.0.0.0" in deliverer
    assert worker["HEELMARK_WORKER_METRICS_BIND"] == "0.0.0.0"


@pytest.mark.skipif(shutil.which("promtool") is None, reason="no promtool on this machine")
def test_prometheus_finds_no_fault_in_what_it_is_to_scrape() -> None:
    path = DEPLOY / "monitoring" / "prometheus.yaml"
    checked = subprocess.run(["promtool", "check", "config", str(path)], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_everything_referred_to_is_defined() -> None:
    for name, service in SERVICES.items():
        assert set(service.get("secrets", [])) <= COMPOSE["secrets"].keys(), name
        assert set(service.get("networks", [])) <= COMPOSE["networks"].keys(), name
        assert set(service.get("depends_on", {})) <= SERVICES.keys(), name
        for volume in service.get("volumes", []):
            source = volume.partition(":")[0]
            if source.startswith("../"):
                assert (DEPLOY / "compose" / source).exists(), volume
            elif not source.startswith("."):
                assert source in COMPOSE["volumes"], volume


def test_secrets_come_from_files_alone() -> None:
    text = (DEPLOY / "compose" / "compose.yaml").read_text()
    for line in text.splitlines():
        key, _, value = line.strip().partition(":")
        if any(word in key for word in ("PASSWORD", "SECRET", "TOKEN", "DATABASE_URL")):
            assert key.endswith("_FILE"), line
            assert value.strip().startswith("/run/secrets/"), line


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine")
def test_preparation_makes_every_secret_once(tmp_path: Path) -> None:
    script = shutil.copy(DEPLOY / "compose" / "prepare.sh", tmp_path)
    environment = {**os.environ, "HEELMARK_HOST": "heelmark.example"}
    run = ["sh", str(script)]
    subprocess.run(run, env=environment, check=True, capture_output=True)
    first = {p.name: p.read_bytes() for folder in ("secrets", "tls") for p in (tmp_path / folder).iterdir()}
    for secret in COMPOSE["secrets"].values():
        assert (tmp_path / secret["file"]).exists(), secret
    assert len(first["secret-key"]) >= 64
    assert first["database-password"].decode() in first["database-url"].decode()
    assert not stat.S_IMODE((tmp_path / "secrets").stat().st_mode) & 0o066
    subprocess.run(
        ["openssl", "verify", "-CAfile", "tls/ca.crt", "-verify_hostname", "heelmark.example", "tls/tls.crt"],
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    subprocess.run(run, env=environment, check=True, capture_output=True)
    again = {p.name: p.read_bytes() for folder in ("secrets", "tls") for p in (tmp_path / folder).iterdir()}
    assert again == first


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine")
def test_preparation_writes_every_variable_that_the_file_requires_and_keeps_it(tmp_path: Path) -> None:
    script = shutil.copy(DEPLOY / "compose" / "prepare.sh", tmp_path)
    for host in ("heelmark.example", "another.example"):
        environment = {**os.environ, "HEELMARK_HOST": host, "HEELMARK_TIME_ZONE": "America/Denver"}
        subprocess.run(["sh", str(script)], env=environment, check=True, capture_output=True)
    told = dict(line.split("=", 1) for line in (tmp_path / ".env").read_text().splitlines())
    required = re.findall(r"\$\{(\w+)(?::\?[^}]*)?\}", (DEPLOY / "compose" / "compose.yaml").read_text())
    assert set(required) <= told.keys()
    assert told["HEELMARK_HOST"] == "heelmark.example"
    assert told["HEELMARK_TIME_ZONE"] == "America/Denver"
    assert re.fullmatch(r"worker-[0-9a-f]{16}", told["HEELMARK_MQTT_USER"])
    assert (tmp_path / ".env").stat().st_mode & 0o077 == 0


def test_preparation_wants_the_host_named(tmp_path: Path) -> None:
    script = shutil.copy(DEPLOY / "compose" / "prepare.sh", tmp_path)
    environment = {name: value for name, value in os.environ.items() if name != "HEELMARK_HOST"}
    refused = subprocess.run(["sh", str(script)], env=environment, capture_output=True, text=True)
    assert refused.returncode != 0
    assert "HEELMARK_HOST" in refused.stderr
