"""The operator's commands as they are typed: backup and restore, maintenance, people, identity provider."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli import cli
from service.operations import backups
from service.settings import load_settings
from service.store import alarms
from service.wiring import utc_now, wire


@pytest.fixture
def installation(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path / "data"))
    heelmark("migrate")
    heelmark("first-run", "--output", str(tmp_path / "first-run.json"))
    yield tmp_path


def heelmark(*arguments: str, expect: int = 0, typed: str | None = None) -> Result:
    result = CliRunner().invoke(cli, arguments, input=typed)
    assert result.exit_code == expect, (result.output, result.exception)
    return result


def test_a_backup_restores_into_a_new_installation(
    installation: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = installation / "backups"
    folder.mkdir()
    heelmark("backup", str(folder))
    (made,) = folder.iterdir()
    monkeypatch.setenv("HEELMARK_DATA", str(installation / "elsewhere"))
    monkeypatch.setenv("HEELMARK_SECRET_KEY_FILE", str(installation / "data" / "secret-key"))
    heelmark("restore", str(made))
    listed = heelmark("token", "list").output
    assert all(scope in listed for scope in ("technician", "supervisor", "reader", "worker"))
    assert "data already" in heelmark("restore", str(made), expect=1).output


def test_only_the_newest_backups_are_kept(installation: Path) -> None:
    folder = installation / "backups"
    folder.mkdir()
    for day in range(1, 6):
        (folder / f"heelmark-2026010{day}T000000Z.jsonl.gz").touch()
    (folder / "notes.txt").touch()
    heelmark("backup", str(folder), "--keep", "3")
    names = sorted(path.name for path in folder.iterdir())
    assert len(names) == 4
    assert "notes.txt" in names
    assert "heelmark-20260103T000000Z.jsonl.gz" not in names


def test_a_backup_makes_its_folder(installation: Path) -> None:
    folder = installation / "made" / "backups"
    heelmark("backup", str(folder), "--keep", "2")
    (made,) = folder.iterdir()
    assert made.stat().st_mode & 0o777 == 0o600
    assert folder.stat().st_mode & 0o777 == 0o700


def alarms_standing() -> list[str]:
    services = wire(load_settings())
    with services.database.reading(1) as work:
        found = [f"{alarm.code}: {alarm.text}" for alarm in alarms.standing(work)]
    services.database.dispose()
    return found


def test_a_backup_that_fails_is_an_alarm_until_one_succeeds(installation: Path) -> None:
    in_the_way = installation / "file"
    in_the_way.write_text("")
    for _ in range(2):
        told = heelmark("backup", str(in_the_way / "folder"), "--keep", "2", expect=1)
        assert "the backup failed" in told.output
        assert "Not a directory" in told.output
    (standing,) = alarms_standing()
    assert standing.startswith("backup-failed: The backup failed: ")
    heelmark("backup", str(installation / "backups"), "--keep", "2")
    assert alarms_standing() == []


def test_a_backup_that_did_not_happen_is_an_alarm(installation: Path) -> None:
    services = wire(load_settings())
    backups.review(services)
    assert alarms_standing() == [], "nobody has asked for backups here"
    heelmark("backup", str(installation / "backups"), "--keep", "2")
    backups.review(services)
    assert alarms_standing() == []
    backups.review(replace(services, now=lambda: utc_now() + timedelta(hours=37)))
    (standing,) = alarms_standing()
    assert "the last one is of" in standing
    services.database.dispose()


def test_maintenance_tells_what_it_did(installation: Path) -> None:
    assert "idempotency" in heelmark("maintain").output


def test_a_person_is_exported_and_erased_after_a_question(
    installation: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HEELMARK_NEW_PASSWORD", "a long password")
    heelmark("create-person", "rosa", "--name", "Rosa Muster", "--role", "technician")
    exported = json.loads(heelmark("person-export", "rosa").output)
    assert exported["person"]["name"] == "Rosa Muster"
    heelmark("person-erase", "rosa", typed="n\n", expect=1)
    heelmark("person-export", "rosa")
    assert "erased-" in heelmark("person-erase", "rosa", typed="y\n").output


def test_an_identity_provider_is_set_and_removed(installation: Path) -> None:
    secret = installation / "client-secret"
    secret.write_text("a secret of the client\n")
    options = (
        "--issuer",
        "https://id.fleet.example",
        "--client-id",
        "heelmark",
        "--client-secret-file",
        str(secret),
    )
    assert "/sign-in/back" in heelmark("identity-provider", "set", *options).output
    heelmark("identity-provider", "remove")


def test_the_probe_tells_alive_from_dead(tmp_path: Path) -> None:
    pulse = tmp_path / "pulse"
    heelmark("probe", str(pulse), expect=1)
    pulse.touch()
    heelmark("probe", str(pulse))
    heelmark("probe", "http://127.0.0.1:9/", expect=1)


def test_broker_files_want_a_real_password(installation: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_MQTT_PASSWORD", "short")
    options = ("broker-files", "--directory", str(installation / "broker"))
    assert "16 characters" in heelmark(*options, expect=1).output
    monkeypatch.setenv("HEELMARK_MQTT_PASSWORD", "a password long enough")
    heelmark(*options)
    written = installation / "broker" / "passwords"
    assert written.read_text().startswith("worker:$7$")
    assert written.stat().st_mode & 0o777 == 0o600
