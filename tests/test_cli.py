"""The commands of an operator, from an empty folder to a revoked token."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli import cli
from service.operations import bootstrap, organisation
from service.operations.support.errors import Invalid
from service.settings import load_settings
from service.store.database import UNAVAILABLE
from service.wiring import wire


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path / "var"))


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, arguments, catch_exceptions=False)


def test_the_first_run_tells_its_secrets_once(tmp_path: Path) -> None:
    assert run("migrate").exit_code == 0
    output = tmp_path / "var" / "first-run.json"
    assert run("first-run", "--place", "shop", "--output", str(output)).exit_code == 0
    told = json.loads(output.read_text(encoding="utf-8"))
    assert output.stat().st_mode & 0o777 == 0o600
    assert set(told["tokens"]) >= {"technician", "supervisor", "reader"}
    assert set(told["board"]) == {"user", "password"}
    again = run("first-run", "--output", str(tmp_path / "other.json"))
    assert "nothing was changed" in again.output
    assert not (tmp_path / "other.json").exists()


def test_a_migration_waits_for_a_server_that_does_not_answer_yet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_DATABASE_URL", "postgresql://nobody@127.0.0.1:1/none")
    tries: list[float] = []
    monkeypatch.setattr("service.store.migrate.time.sleep", tries.append)
    with pytest.raises(UNAVAILABLE):
        run("migrate", "--wait-s", "0.5")
    assert tries


def test_tokens_are_made_listed_and_revoked() -> None:
    run("migrate")
    run("first-run")
    made = run("token", "create", "gateway", "--scope", "worker", "--days", "30")
    assert made.output.strip().startswith("hm_")
    listed = run("token", "list").output
    (line,) = [line for line in listed.splitlines() if "gateway" in line]
    assert "valid" in line
    assert made.output.strip() not in listed
    assert run("token", "revoke", line.split()[0]).exit_code == 0
    assert "revoked" in next(line for line in run("token", "list").output.splitlines() if "gateway" in line)


def test_people_are_let_in() -> None:
    run("migrate")
    run("first-run")
    new = (
        "create-person",
        "rosa",
        "--name",
        "Rosa",
        "--role",
        "technician",
        "--password",
        "correct horse battery",
    )
    assert "may sign in as technician" in run(*new).output
    assert "new password" in run("set-password", "rosa", "--password", "another long password").output
    unknown = run("set-password", "nobody", "--password", "another long password")
    assert "nobody signs in as nobody" in unknown.output


def test_an_unknown_owner_is_told() -> None:
    run("migrate")
    answer = run("token", "list", "--organisation", "nobody")
    assert answer.exit_code == 1
    assert "there is no organisation nobody" in answer.output


def test_the_first_run_takes_a_time_zone_and_refuses_one_that_does_not_exist(tmp_path: Path) -> None:
    run("migrate")
    output = tmp_path / "first-run.json"
    with pytest.raises(Invalid, match=r"time_zone.*Mars/Base.*America/Denver"):
        run("first-run", "--time-zone", "Mars/Base", "--output", str(output))
    assert not output.exists()
    assert run("first-run", "--time-zone", "America/Denver", "--output", str(output)).exit_code == 0
    services = wire(load_settings())
    found = bootstrap.organisation_id(services, "home")
    assert found is not None
    assert organisation.read(services, bootstrap.system_actor(found)).time_zone == "America/Denver"
