"""Settings tell every fault at once and default no secret."""

import os
from pathlib import Path

import pytest

from service.settings import SettingsError, load_settings, make_secret


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path))


def test_a_secret_made_once_is_enough(tmp_path: Path) -> None:
    make_secret(tmp_path)
    first = load_settings()
    make_secret(tmp_path)
    assert load_settings() == first
    assert first.database_url == f"sqlite:///{tmp_path / 'heelmark.sqlite'}"
    assert (tmp_path / "secret-key").stat().st_mode & 0o777 == 0o600
    assert len(first.secret_key) >= 32


def test_a_start_that_is_cut_short_leaves_no_half_a_secret(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An empty file would keep the service from starting ever after."""
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            make_secret(tmp_path)
    assert not (tmp_path / "secret-key").exists()
    (tmp_path / "secret-key").touch()
    make_secret(tmp_path)
    assert len((tmp_path / "secret-key").read_text()) >= 32
    assert [path.name for path in tmp_path.iterdir()] == ["secret-key"]


def test_without_a_secret_nothing_starts() -> None:
    with pytest.raises(SettingsError, match="HEELMARK_SECRET_KEY: is not set"):
        load_settings()


def test_every_fault_is_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    faulty = {"HTTP_PORT": "x", "STREAM_CAP": "0", "ELEVATION_M": "high", "SECRET_KEY": "short"}
    for name, value in faulty.items():
        monkeypatch.setenv(f"HEELMARK_{name}", value)
    with pytest.raises(SettingsError) as refused:
        load_settings()
    told = str(refused.value)
    assert all(f"HEELMARK_{name}" in told for name in faulty)
    assert "short" not in told.replace("expected", "")


def test_what_is_set_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_SECRET_KEY", "s" * 40)
    monkeypatch.setenv("HEELMARK_HTTP_PORT", "9000")
    monkeypatch.setenv("HEELMARK_ELEVATION_M", "1609")
    monkeypatch.setenv("HEELMARK_PRESSURE_UNCERTAINTY_KPA", "0.5")
    settings = load_settings()
    assert settings.public_url == "http://127.0.0.1:9000"
    assert settings.default_elevation_m == 1609
    assert settings.instruments.pressure_pa == 500
