"""The operator's commands as they are typed: backup and restore, maintenance, people, identity provider."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from service.cli import cli
from service.commands import backup as backup_command
from service.operations import backups
from service.settings import load_settings
from service.store import alarms
from service.wiring import utc_now, wire

ROOT = Path(__file__).parents[2]


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


def test_a_restore_waits_for_a_database_that_does_not_answer_yet(
    installation: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heelmark("backup", str(installation / "backup.gz"))
    monkeypatch.setenv("HEELMARK_DATA", str(installation / "elsewhere"))
    monkeypatch.setenv("HEELMARK_SECRET_KEY_FILE", str(installation / "data" / "secret-key"))
    waited: list[float] = []
    monkeypatch.setattr("service.store.migrate.wait_for", lambda url, within_s: waited.append(within_s))
    assert "restored" in heelmark("restore", "--wait-s", "60", str(installation / "backup.gz")).output
    assert waited == [60.0]


def mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


def test_databases_are_their_owners_alone_under_any_umask(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = os.umask(0o022)
    try:
        for name in ("first", "second"):
            monkeypatch.setenv("HEELMARK_DATA", str(tmp_path / name))
            monkeypatch.setenv("HEELMARK_SECRET_KEY", "s" * 40)
            if name == "first":
                heelmark("migrate")
                heelmark("first-run", "--output", str(tmp_path / "first-run.json"))
                heelmark("backup", str(tmp_path / "backup.gz"))
            else:
                heelmark("restore", str(tmp_path / "backup.gz"))
            assert {mode(path) for path in (tmp_path / name).iterdir()} == {0o600}, name
    finally:
        os.umask(before)


def test_a_database_that_others_could_read_is_closed_by_the_next_migration(installation: Path) -> None:
    path = installation / "data" / "heelmark.sqlite"
    path.chmod(0o644)
    heelmark("migrate")
    assert mode(path) == 0o640, "what the group may do is the operator's choice"


@pytest.mark.parametrize("obstacle", ["file", "proc"])
def test_a_data_folder_that_cannot_be_written_gets_a_sentence(tmp_path: Path, obstacle: str) -> None:
    (tmp_path / "file").write_text("in the way")
    data = tmp_path / "file" if obstacle == "file" else Path("/proc/heelmark")
    command = [str(Path(sys.executable).with_name("heelmark")), "migrate"]
    environment = {**os.environ, "HEELMARK_DATA": str(data)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr.startswith(f"HEELMARK_DATA: {data} ")
    assert len(done.stderr.splitlines()) == 1
    stack = [sys.executable, "-m", "deploy.up"]
    done = subprocess.run(stack, env=environment, capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 1
    assert done.stderr.startswith(f"Heelmark stopped: the data folder {data} cannot be written (")
    assert len(done.stderr.splitlines()) == 1


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
        found = [f"{alarm.code}: {alarm.text}" for alarm in alarms.open_ones(work)]
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


def test_backups_are_made_again_and_again_and_one_that_fails_is_tried_again(
    installation: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, rounds = installation / "backups", []
    monkeypatch.setattr(backup_command, "AGAIN_AFTER_S", 0.0)

    class Stopping:
        def is_set(self) -> bool:
            return len(rounds) == 6

        def wait(self, _s: float) -> None:
            rounds.append(len(list(folder.glob("*.jsonl.gz"))) if folder.is_dir() else -1)
            if len(rounds) == 2:
                folder.unlink()
            if len(rounds) == 4:
                made = next(folder.glob("*.jsonl.gz"))
                os.utime(made, (made.stat().st_atime, made.stat().st_mtime - 24 * 3600))
                made.rename(folder / "heelmark-20260101T000000Z.jsonl.gz")

    folder.write_text("in the way")
    backup_command.make_again_and_again(folder, 14, 24 * 3600.0, Stopping())
    assert rounds == [-1, -1, 1, 1, 2, 2]
    assert alarms_standing() == []


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
