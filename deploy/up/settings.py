"""What the one-machine stack may be told through the environment."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from zoneinfo import available_timezones

from deploy.up.machine import time_zone
from deploy.up.refusal import StartRefused

BROKERS = ("auto", "mosquitto", "amqtt")


@dataclass(frozen=True, slots=True)
class UpSettings:
    """Where the stack keeps its data and which addresses it takes."""

    data: Path
    bind: str = "127.0.0.1"
    http_port: int = 8642
    mqtt_port: int = 18830
    mqtt_root: str = "heelmark"
    broker: str = "auto"
    time_zone: str = "UTC"
    demo: bool = False
    lan: bool = False
    https_port: int = 8643
    phone_port: int = 8644
    certificate: Path | None = None
    name: str = ""

    @property
    def base_url(self) -> str:
        """The address that people and scripts on this machine use."""
        return f"http://{self.reachable_host}:{self.http_port}"

    @property
    def reachable_host(self) -> str:
        """An address at which something bound to `bind` answers on this machine."""
        return "127.0.0.1" if self.bind in ("0.0.0.0", "::", "*") else self.bind  # noqa: S104


def read_settings(environ: Mapping[str, str], *, demo: bool, base: Path, lan: bool = False) -> UpSettings:
    """Read the stack's settings.

    Parameters
    ----------
    environ : Mapping[str, str]
        The environment.
    demo : bool
        Whether the simulated cylinders are wanted.
    lan : bool
        Whether phones of the own network are to reach it, over HTTPS.
    base : Path
        Relative folders are taken from here.

    Raises
    ------
    StartRefused
        When a value is not usable; the sentence names the setting and the value.
    """
    settings = UpSettings(
        data=(base / environ.get("HEELMARK_DATA", "var")).resolve(),
        bind=environ.get("HEELMARK_BIND", "127.0.0.1"),
        http_port=_port(environ, "HEELMARK_HTTP_PORT", 8642),
        mqtt_port=_port(environ, "HEELMARK_MQTT_PORT", 18830),
        mqtt_root=environ.get("HEELMARK_MQTT_ROOT", "heelmark"),
        broker=environ.get("HEELMARK_BROKER", "auto"),
        time_zone=environ.get("HEELMARK_TIME_ZONE") or time_zone(environ),
        demo=demo,
        lan=lan or environ.get("HEELMARK_LAN", "").lower() in ("1", "true", "yes", "on"),
        https_port=_port(environ, "HEELMARK_HTTPS_PORT", 8643),
        phone_port=_port(environ, "HEELMARK_PHONE_PORT", 8644),
        certificate=_own_certificate(environ, base),
        name=environ.get("HEELMARK_LAN_NAME", ""),
    )
    if settings.time_zone not in available_timezones():
        raise StartRefused(
            f"HEELMARK_TIME_ZONE is {settings.time_zone!r}; expected an IANA time zone such as America/Denver"
        )
    if settings.certificate is not None and not settings.name:
        raise StartRefused("HEELMARK_LAN_CERTIFICATE is set; expected HEELMARK_LAN_NAME, the name it is for")
    _apart(settings)
    if settings.broker not in BROKERS:
        raise StartRefused(f"HEELMARK_BROKER is {settings.broker!r}; expected one of {', '.join(BROKERS)}")
    return settings


def _apart(settings: UpSettings) -> None:
    ports = {"HEELMARK_HTTP_PORT": settings.http_port, "HEELMARK_MQTT_PORT": settings.mqtt_port}
    if settings.lan:
        ports |= {"HEELMARK_HTTPS_PORT": settings.https_port, "HEELMARK_PHONE_PORT": settings.phone_port}
    for (one, port), (other, same) in combinations(ports.items(), 2):
        if port == same:
            raise StartRefused(f"{one} and {other} are both {port}; they must differ")


def _own_certificate(environ: Mapping[str, str], base: Path) -> Path | None:
    text = environ.get("HEELMARK_LAN_CERTIFICATE", "")
    if not text:
        return None
    path = (base / text).resolve()
    if not path.is_file():
        raise StartRefused(
            f"HEELMARK_LAN_CERTIFICATE is {text!r}; expected a file with key and certificate chain"
        )
    return path


def _port(environ: Mapping[str, str], name: str, default: int) -> int:
    text = environ.get(name, str(default))
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 65535):
        raise StartRefused(f"{name} is {text!r}; expected a port number from 1 to 65535")
    return int(text)
