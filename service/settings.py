"""Settings from the environment, read once; every fault is told at once, secrets are never defaulted."""

import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from environs import Env, EnvValidationError, ValidationError, validate

from service.units import kpa_from_pa, pa_from_kpa

MINIMUM_SECRET_LENGTH = 32
SECRET_FILE = "secret-key"  # noqa: S105


class SettingsError(Exception):
    """The environment does not make usable settings; the message lists every fault."""


@dataclass(frozen=True, slots=True)
class InstrumentDefaults:
    """Standard uncertainties (k = 1) of a pair that states none: an ordinary clamp and wireless gauge."""

    temperature_k: float = 0.3
    pressure_pa: float = 5000.0
    temperature_bias_k: float = 0.3
    pressure_bias_pa: float = 3000.0


@dataclass(frozen=True, slots=True)
class Settings:
    """
    Everything that an operator may set.

    Parameters
    ----------
    data
        Folder of the database and the first-run file.
    database_url
        SQLAlchemy URL; SQLite in ``data`` unless set.
    secret_key
        Signs session cookies; made once into ``data`` by ``heelmark migrate`` unless set.
    public_url
        How people reach the board; printed on labels.
    stream_cap
        Open event streams one process serves before it answers 503.
    stream_seconds
        A stream ends itself after this long so that deploys drain [s].
    body_limit
        Greatest request body [byte].
    default_elevation_m
        Elevation of a place that states none [m]; none means the atmosphere is unknown.
    region
        Whose table of prevalences the verdict starts from.
    instruments
        Uncertainties that a pair without its own gets.
    secure_cookies
        Send the session cookie over TLS alone.
    trusted_proxies
        How many proxies in front set ``X-Forwarded-For``; what more hops claim is not believed.
    request_limit, failure_limit
        How many API requests a token, or without one an address, may make, and how many of an address may fail
        for want of a valid token; ``n per minute``.
    limit_storage
        Where they are counted: in each process, or for all of them in a store such as ``redis://``.
    webhook_named_hosts
        Hosts that webhooks may reach although they are private or without TLS.
    webhook_give_up_hours
        After failing for so long, a webhook is disabled and an alarm raised [h].
    webhook_first_retry_s
        Wait after the first failure; each further one waits three times as long, up to four hours [s].
    webhook_timeout_s
        An attempt ends after this, however slowly the receiver drips [s].
    stack_report
        Where the one-machine stack's supervisor tells of the processes beside the service.
    certificate
        File of the certificate by which phones reach the board; an alarm is raised before it ends.
    """

    data: Path
    database_url: str
    secret_key: str
    public_url: str = "http://127.0.0.1:8642"
    stream_cap: int = 128
    stream_seconds: float = 600.0
    body_limit: int = 1_000_000
    default_elevation_m: float | None = None
    region: str = "north-america"
    instruments: InstrumentDefaults = InstrumentDefaults()
    secure_cookies: bool = False
    trusted_proxies: int = 0
    request_limit: str = "3000 per minute"
    failure_limit: str = "60 per minute"
    limit_storage: str = "memory://"
    webhook_named_hosts: frozenset[str] = frozenset()
    webhook_give_up_hours: float = 72.0
    webhook_first_retry_s: float = 5.0
    webhook_timeout_s: float = 20.0
    stack_report: Path | None = None
    certificate: Path | None = None

    @property
    def stream_share(self) -> int:
        """Event streams that one person or token may have open in one process."""
        return max(4, self.stream_cap // 8)


def load_settings() -> Settings:
    """
    Read ``HEELMARK_*`` from the process environment.

    Returns
    -------
    Settings
        Complete and checked.

    Raises
    ------
    SettingsError
        Naming every variable at fault.
    """
    env = Env(eager=False)
    with env.prefixed("HEELMARK_"):
        data = env.path("DATA", Path("var"))
        secret, secret_fault = _secret(env, data)
        database_url, database_fault = _database_url(env, data)
        port = env.int("HTTP_PORT", 8642, validate=validate.Range(1, 65535))
        settings = Settings(
            data=data,
            database_url=database_url,
            secret_key=secret,
            public_url=env.str("PUBLIC_URL", "") or f"http://127.0.0.1:{port}",
            stream_cap=env.int("STREAM_CAP", 128, validate=validate.Range(1, 10_000)),
            stream_seconds=env.float("STREAM_SECONDS", 600.0, validate=validate.Range(1, 86_400)),
            body_limit=env.int("BODY_LIMIT", 1_000_000, validate=validate.Range(1_000, 1_000_000_000)),
            default_elevation_m=env.float("ELEVATION_M", None, validate=validate.Range(-430, 6000)),
            region=env.str("REGION", "north-america"),
            instruments=_instruments(env),
            secure_cookies=env.bool("SECURE_COOKIES", False),
            stack_report=env.path("STACK_REPORT", None),
            certificate=env.path("CERTIFICATE", None),
            **_guards(env),
            **_webhooks(env),
        )
    faults: dict[str, list[str]] = {}
    try:
        env.seal()
    except EnvValidationError as error:
        messages = error.error_messages if isinstance(error.error_messages, dict) else {}
        faults.update({name: [str(text) for text in told] for name, told in messages.items()})
    if secret_fault:
        faults["HEELMARK_SECRET_KEY"] = [secret_fault]
    if database_fault:
        faults["HEELMARK_DATABASE_URL_FILE"] = [database_fault]
    if faults:
        raise SettingsError("\n".join(f"{name}: {' '.join(told)}" for name, told in sorted(faults.items())))
    return settings


def make_secret(data: Path) -> None:
    """
    Write the secret that signs sessions into the data folder, unless there is one; mode 0600, whole or not at all.

    What is sealed under it is lost with it: it is on the disk before anything can be. An empty file, which a start that
    was cut short left in earlier versions, is none.

    Raises
    ------
    SettingsError
        When the folder cannot be written.
    """
    path, draft = data / SECRET_FILE, data / f".{SECRET_FILE}"
    try:
        data.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size:
            return
        draft.unlink(missing_ok=True)
        draft.touch(mode=0o600)
        with draft.open("w", encoding="utf-8") as file:
            file.write(secrets.token_urlsafe(48))
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
        _sync(data)
    except FileExistsError:
        raise SettingsError(f"HEELMARK_DATA: {data} is no folder") from None
    except OSError as error:
        raise SettingsError(
            f"HEELMARK_DATA: {data} cannot be written ({error.strerror}), expected a folder that can"
        ) from None


def _sync(folder: Path) -> None:
    """Have the names in a folder on the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _secret(env: Env, data: Path) -> tuple[str, str | None]:
    secret = env.str("SECRET_KEY", "")
    path = env.path("SECRET_KEY_FILE", data / SECRET_FILE)
    if not secret:
        try:
            secret = path.read_text(encoding="utf-8").strip()
        except OSError as error:
            return "", f"is not set and {path}: {error.strerror}; `heelmark migrate` makes one."
    if len(secret) < MINIMUM_SECRET_LENGTH:
        return "", f"has {len(secret)} characters, expected at least {MINIMUM_SECRET_LENGTH}."
    return secret, None


def _hosts(text: str | None) -> frozenset[str]:
    return frozenset(host.strip().lower() for host in (text or "").split(",") if host.strip())


def _limit(text: str) -> None:
    if re.fullmatch(r"[1-9][0-9]{0,8} per (second|minute|hour|day)", text) is None:
        raise ValidationError(f"{text!r}, expected a limit such as '60 per minute'")


def _database_url(env: Env, data: Path) -> tuple[str, str | None]:
    """From the environment, or, since it carries a password, from a file that it names."""
    path = env.path("DATABASE_URL_FILE", None)
    url = env.str("DATABASE_URL", "")
    if path is not None and not url:
        try:
            url = path.read_text(encoding="utf-8").strip()
        except OSError as error:
            return "", f"{path}: {error.strerror}."
        if not url:
            return "", f"{path} is empty, expected a database URL."
    return url or f"sqlite:///{data / 'heelmark.sqlite'}", None


def _guards(env: Env) -> dict[str, Any]:
    return {
        "trusted_proxies": env.int("TRUSTED_PROXIES", 0, validate=validate.Range(0, 10)),
        "request_limit": env.str("REQUEST_LIMIT", "3000 per minute", validate=_limit),
        "failure_limit": env.str("FAILURE_LIMIT", "60 per minute", validate=_limit),
        "limit_storage": env.str("LIMIT_STORAGE", "memory://"),
    }


def _webhooks(env: Env) -> dict[str, Any]:
    give_up_hours = env.float("WEBHOOK_GIVE_UP_HOURS", 72.0, validate=validate.Range(0.001, 720))
    first_retry_s = env.float("WEBHOOK_FIRST_RETRY_S", 5.0, validate=validate.Range(0.05, 3600))
    return {
        "webhook_named_hosts": _hosts(env.str("WEBHOOK_NAMED_HOSTS", "")),
        "webhook_first_retry_s": first_retry_s,
        "webhook_timeout_s": env.float("WEBHOOK_TIMEOUT_S", 20.0, validate=validate.Range(0.5, 60)),
        "webhook_give_up_hours": give_up_hours,
    }


def _instruments(env: Env) -> InstrumentDefaults:
    positive = validate.Range(0.0, 1e6, min_inclusive=False)
    usual = InstrumentDefaults()

    def read(name: str, default: float) -> float:
        # A faulty value reads as None until the environment is sealed, which tells the fault.
        value: float | None = env.float(name, default, validate=positive)
        return default if value is None else value

    return InstrumentDefaults(
        temperature_k=read("TEMPERATURE_UNCERTAINTY_K", usual.temperature_k),
        pressure_pa=pa_from_kpa(read("PRESSURE_UNCERTAINTY_KPA", kpa_from_pa(usual.pressure_pa))),
        temperature_bias_k=read("TEMPERATURE_BIAS_UNCERTAINTY_K", usual.temperature_bias_k),
        pressure_bias_pa=pa_from_kpa(
            read("PRESSURE_BIAS_UNCERTAINTY_KPA", kpa_from_pa(usual.pressure_bias_pa))
        ),
    )
