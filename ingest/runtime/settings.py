"""Settings of the worker, read from the environment; every fault is told at once."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import cast
from urllib.parse import urlsplit

from environs import Env, EnvValidationError

from ingest.estimator.settling_settings import SettlingSettings
from ingest.wire.mapping import BadMapping, MessageMapping, check_names, parse
from ingest.wire.mqtt import BrokerSettings

MAPPING_FILES = (".toml", ".json")
MQTT_VERSIONS = {"3.1.1": 4, "5": 5}


class BadSettings(ValueError):
    """One or more settings are missing or wrong; the message has a line for each."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything the worker is told.

    Parameters
    ----------
    service_url : str
        Address of the service.
    worker_token : str
        Token with the worker's scope.
    broker : BrokerSettings
        The broker and the places this worker owns.
    data : Path
        Folder of the inbox and outbox.
    settling : SettlingSettings
        What counts as settled.
    standby : bool
        Whether to wait until the owner of the data folder is gone or hangs.
    drain_s : float
        Longest time from SIGTERM to the end, [s].
    metrics_port : int
        Port for Prometheus; 0 for none.
    metrics_bind : str
        Address of that port.
    poll_s : float
        Pause between two looks at the hookups, [s].
    live_s : float
        Pause between two live snapshots, [s].
    keep_s : float
        Packs stay in the inbox at least this long, [s].
    mappings : tuple of MessageMapping
        How messages of other shapes are read.
    """

    service_url: str
    worker_token: str
    broker: BrokerSettings
    data: Path
    settling: SettlingSettings
    standby: bool = False
    drain_s: float = 10.0
    metrics_port: int = 0
    metrics_bind: str = "127.0.0.1"
    poll_s: float = 3.0
    live_s: float = 2.0
    keep_s: float = 1800.0
    mappings: tuple[MessageMapping, ...] = ()


def read_settings(environ: Mapping[str, str] | None = None) -> Settings:
    """Read the settings; raises BadSettings with every fault.

    Parameters
    ----------
    environ : mapping or None
        Used instead of the process's environment.

    Returns
    -------
    Settings
        The worker's settings.
    """
    if environ is not None:
        return _read(Env(eager=False, prefix="HEELMARK_"), environ)
    return _read(Env(eager=False, prefix="HEELMARK_"), None)


def _read(env: Env, environ: Mapping[str, str] | None) -> Settings:
    saved = None
    if environ is not None:
        saved = dict(os.environ)
        os.environ.clear()
        os.environ.update(environ)
    try:
        return _settings(env)
    finally:
        if saved is not None:
            os.environ.clear()
            os.environ.update(saved)


def _settings(env: Env) -> Settings:
    url = env.str("SERVICE_URL", "http://127.0.0.1:8642")
    token = _secret(env, "WORKER_TOKEN")
    places = tuple(p for p in (x.strip() for x in cast(list[str], env.list("PLACES", []))) if p)
    root = env.str("MQTT_ROOT", "heelmark")
    version = env.str("MQTT_VERSION", "5" if places else "3.1.1")
    broker = BrokerSettings(
        host=env.str("MQTT_HOST", "127.0.0.1"),
        port=env.int("MQTT_PORT", 18830),
        user=env.str("MQTT_USER", None),
        password=_secret(env, "MQTT_PASSWORD"),
        root=root,
        places=places,
        client_id=env.str("MQTT_CLIENT_ID", f"{root}-ingest-{'-'.join(places) or 'all'}"),
        version=MQTT_VERSIONS.get(version, 0),
        tls=env.bool("MQTT_TLS", False),
        ca_file=env.str("MQTT_CA_FILE", None),
        hears_all=env.bool("MQTT_HEAR_ALL", False),
    )
    settings = Settings(
        service_url=url,
        worker_token=token or "",
        broker=broker,
        data=Path(env.str("WORKER_DATA", str(Path(env.str("DATA", "var")) / "worker"))),
        settling=SettlingSettings(
            budget_k=env.float("SETTLING_BUDGET_K", 0.25),
            risk_in=env.float("SETTLING_RISK", SettlingSettings().risk_in),
        ),
        standby=env.bool("WORKER_STANDBY", False),
        drain_s=env.float("WORKER_DRAIN_S", 10.0),
        metrics_port=env.int("WORKER_METRICS_PORT", 0),
        metrics_bind=env.str("WORKER_METRICS_BIND", "127.0.0.1"),
        mappings=_mappings(env.str("MAPPINGS", None), root),
    )
    _seal(env, settings, version)
    return settings


def _mappings(where: str | None, root: str) -> tuple[MessageMapping, ...]:
    """Return the mappings of a file, or of all files of a folder in the order of their names."""
    if not where:
        return ()
    path = Path(where)
    files = sorted(one for one in path.iterdir() if one.suffix in MAPPING_FILES) if path.is_dir() else [path]
    if not files or any(one.suffix not in MAPPING_FILES for one in files):
        raise BadSettings(
            f"HEELMARK_MAPPINGS: {where}, expected a .toml or .json file, or a folder of such files"
        )
    found: list[MessageMapping] = []
    for one in files:
        try:
            found += parse(one.read_text(encoding="utf-8"), toml=one.suffix == ".toml", root=root)
            check_names(found)
        except (OSError, UnicodeDecodeError) as error:
            raise BadSettings(f"HEELMARK_MAPPINGS: {one} cannot be read ({error})") from error
        except BadMapping as error:
            raise BadSettings(f"HEELMARK_MAPPINGS: {one}: {error}") from error
    return tuple(found)


def _secret(env: Env, name: str) -> str | None:
    file: str | None = env.str(f"{name}_FILE", None)
    if file:
        try:
            return Path(file).read_text().strip()
        except OSError as error:
            raise BadSettings(f"HEELMARK_{name}_FILE: {file} cannot be read ({error.strerror})") from error
    value: str | None = env.str(name, None)
    return value


def _has_addresses(broker: BrokerSettings) -> bool:
    try:
        return all(host and 0 < port < 65536 for host, port in broker.addresses)
    except ValueError:
        return False


def _seal(env: Env, settings: Settings, version: str) -> None:
    settling, url = settings.settling, settings.service_url
    bad_places = [place for place in settings.broker.places if set(place) & set("/+#")]
    checks = (
        (
            bool(settings.worker_token),
            "HEELMARK_WORKER_TOKEN: missing, expected a token with the worker's scope",
        ),
        (
            urlsplit(url).scheme in ("http", "https"),
            f"HEELMARK_SERVICE_URL: {url!r}, expected http://... or https://...",
        ),
        (version in MQTT_VERSIONS, f"HEELMARK_MQTT_VERSION: {version!r}, expected 3.1.1 or 5"),
        (
            _has_addresses(settings.broker),
            f"HEELMARK_MQTT_HOST: {settings.broker.host!r}, expected HOST or HOST:PORT, several with commas between",
        ),
        (not bad_places, f"HEELMARK_PLACES: {bad_places}, expected names without / + #"),
        (
            0.0 < settling.budget_k <= 5.0,
            f"HEELMARK_SETTLING_BUDGET_K: {settling.budget_k}, expected above 0 and at most 5",
        ),
        (
            0.0 < settling.risk_in < settling.risk_out,
            f"HEELMARK_SETTLING_RISK: {settling.risk_in}, expected between 0 and {settling.risk_out}",
        ),
    )
    faults = [text for good, text in checks if not good]
    try:
        env.seal()
    except EnvValidationError as error:
        faults.append(str(error))
    if faults:
        raise BadSettings("\n".join(faults))
