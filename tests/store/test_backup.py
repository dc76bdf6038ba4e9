"""What was backed up comes back, in either kind of database; damage is found before it hurts."""

import gzip
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from service.store import backup, migrate
from service.store.engine import make_engine
from tests.support.postgres import PostgresServer, postgres_server
from tests.support.sample_rows import contents, fill

NOW = datetime(2026, 2, 3, tzinfo=UTC)


@pytest.fixture(scope="module")
def postgres() -> Iterator[PostgresServer]:
    with postgres_server() as server:
        yield server


def fresh(kind: str, tmp_path: Path, request: pytest.FixtureRequest, name: str) -> str:
    if kind == "sqlite":
        return f"sqlite:///{tmp_path / name}.sqlite"
    return request.getfixturevalue("postgres").fresh_url()


@contextmanager
def opened(url: str) -> Iterator[sa.Connection]:
    engine = make_engine(url)
    with engine.execution_options(writing=True).begin() as connection:
        yield connection
    engine.dispose()


def filled(url: str, revision: str = "head") -> dict[str, list[dict[str, object]]]:
    migrate.upgrade(url, revision)
    with opened(url) as connection:
        fill(connection, range(1, 8))
        return contents(connection)


def everything(url: str) -> dict[str, list[dict[str, object]]]:
    with opened(url) as connection:
        return contents(connection)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filled") / "old.sqlite"
    filled(f"sqlite:///{path}")
    return path


@pytest.fixture
def old(template: Path, tmp_path: Path) -> str:
    """A database with rows in every table."""
    return f"sqlite:///{shutil.copy(template, tmp_path)}"


KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.mark.parametrize("source", KINDS)
@pytest.mark.parametrize("target", KINDS)
def test_everything_comes_back(
    source: str, target: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    old, new = (fresh(kind, tmp_path, request, name) for kind, name in ((source, "old"), (target, "new")))
    before = filled(old)
    counts = backup.write(old, tmp_path / "b.jsonl.gz", NOW)
    assert set(counts.values()) == {7}
    assert backup.restore(new, tmp_path / "b.jsonl.gz") == counts
    assert everything(new) == before


@pytest.mark.parametrize("target", KINDS)
def test_new_rows_are_numbered_after_the_restored_ones(
    target: str, old: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    new = fresh(target, tmp_path, request, "new")
    backup.write(old, tmp_path / "b.jsonl.gz", NOW)
    backup.restore(new, tmp_path / "b.jsonl.gz")
    with opened(new) as connection:
        made = sa.text(
            "INSERT INTO organisations (name, created_at) VALUES ('new', '2026-01-01') RETURNING id"
        )
        assert connection.execute(made).scalar_one() == 8


def test_a_backup_of_an_older_schema_is_upgraded_after_it_is_filled(tmp_path: Path) -> None:
    old, new = (f"sqlite:///{tmp_path / name}.sqlite" for name in ("old", "new"))
    before = filled(old, "0001")
    backup.write(old, tmp_path / "b.jsonl.gz", NOW)
    backup.restore(new, tmp_path / "b.jsonl.gz")
    engine = make_engine(new)
    assert migrate.at_head(engine)
    engine.dispose()
    after = everything(new)
    assert {name: len(after[name]) for name in before} == dict.fromkeys(before, 7)


def test_the_file_is_private_and_nothing_half_written_is_left(old: str, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    folder.mkdir()
    backup.write(old, folder / "b.jsonl.gz", NOW)
    assert stat.S_IMODE((folder / "b.jsonl.gz").stat().st_mode) == 0o600
    assert [p.name for p in folder.iterdir()] == ["b.jsonl.gz"]


def test_writing_goes_on_meanwhile_and_does_not_show(
    old: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One snapshot: an organisation made while the tables are read is in none of them."""
    real = backup._tables

    def tables_then_a_write(connection: sa.Connection) -> dict[str, sa.Table]:
        found = real(connection)
        with opened(old) as other:
            other.execute(
                sa.text("INSERT INTO organisations (name, created_at) VALUES ('late', '2026-01-01')")
            )
        return found

    monkeypatch.setattr(backup, "_tables", tables_then_a_write)
    assert backup.write(old, tmp_path / "b.jsonl.gz", NOW)["organisations"] == 7


@pytest.mark.parametrize("damage", ["cut", "changed", "not gzip", "empty", "no end"])
def test_a_damaged_file_changes_nothing(damage: str, old: str, tmp_path: Path) -> None:
    path = tmp_path / "b.jsonl.gz"
    backup.write(old, path, NOW)
    whole = path.read_bytes()
    text = gzip.decompress(whole)
    path.write_bytes(
        {
            "cut": whole[: len(whole) // 2],
            "changed": gzip.compress(text.replace(b'"name ', b'"mane ', 1)),
            "not gzip": b"nonsense",
            "empty": b"",
            "no end": gzip.compress(text[: text.rindex(b'{"end"')]),
        }[damage]
    )
    with pytest.raises(backup.UnusableBackup):
        backup.restore(f"sqlite:///{tmp_path / 'new.sqlite'}", path)
    assert not (tmp_path / "new.sqlite").exists()


def test_a_database_with_data_is_left_alone(old: str, tmp_path: Path) -> None:
    before = everything(old)
    backup.write(old, tmp_path / "b.jsonl.gz", NOW)
    with pytest.raises(backup.UnusableBackup, match="data already"):
        backup.restore(old, tmp_path / "b.jsonl.gz")
    assert everything(old) == before


def test_an_unreadable_folder_is_told(old: str, tmp_path: Path) -> None:
    with pytest.raises(OSError):
        backup.write(old, tmp_path / "no such folder" / "b.jsonl.gz", NOW)
    assert not (tmp_path / "no such folder").exists()
