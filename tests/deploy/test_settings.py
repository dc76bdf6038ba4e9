"""The stack's settings: defaults of the design, faults that name the variable and the value."""

import sys
from pathlib import Path

import pytest

from deploy.up.broker import broker_spec
from deploy.up.machine import time_zone
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings, read_settings

CHECKOUT = Path("/checkout")


def test_defaults():
    settings = read_settings({}, demo=False, base=CHECKOUT)
    assert (settings.bind, settings.http_port, settings.mqtt_port) == ("127.0.0.1", 8642, 18830)
    assert settings.data == CHECKOUT / "var"
    assert settings.base_url == "http://127.0.0.1:8642"


def test_listening_everywhere_is_still_reached_on_this_machine():
    settings = read_settings({"HEELMARK_BIND": "0.0.0.0"}, demo=False, base=CHECKOUT)
    assert settings.base_url == "http://127.0.0.1:8642"


@pytest.mark.parametrize("value", ["", "http", "0", "65536", "-1", "8642.5", "８６４２"])
@pytest.mark.parametrize("name", ["HEELMARK_HTTP_PORT", "HEELMARK_MQTT_PORT"])
def test_a_bad_port_names_setting_and_value(name, value):
    with pytest.raises(StartRefused, match=f"{name} is '{value}'; expected a port number"):
        read_settings({name: value}, demo=False, base=CHECKOUT)


def test_both_listeners_on_one_port_is_refused():
    with pytest.raises(StartRefused, match="both 8642"):
        read_settings({"HEELMARK_MQTT_PORT": "8642"}, demo=False, base=CHECKOUT)


def test_an_unknown_broker_is_refused():
    with pytest.raises(
        StartRefused, match="HEELMARK_BROKER is 'kafka'; expected one of auto, mosquitto, amqtt"
    ):
        read_settings({"HEELMARK_BROKER": "kafka"}, demo=False, base=CHECKOUT)


def test_the_time_zone_is_the_machines_unless_it_is_set(tmp_path):
    zones = tmp_path / "zoneinfo" / "America"
    zones.mkdir(parents=True)
    (zones / "Denver").touch()
    (tmp_path / "localtime").symlink_to(zones / "Denver")
    assert time_zone({}, tmp_path / "localtime") == "America/Denver"
    assert time_zone({"TZ": ":Europe/Amsterdam"}, tmp_path / "localtime") == "Europe/Amsterdam"
    assert time_zone({"TZ": "nonsense"}, tmp_path / "nothing") == "UTC"
    set_here = read_settings({"HEELMARK_TIME_ZONE": "Australia/Perth"}, demo=False, base=CHECKOUT)
    assert set_here.time_zone == "Australia/Perth"


def test_a_time_zone_that_does_not_exist_is_refused():
    with pytest.raises(StartRefused, match="HEELMARK_TIME_ZONE is 'Mars/Base'; expected an IANA time zone"):
        read_settings({"HEELMARK_TIME_ZONE": "Mars/Base"}, demo=False, base=CHECKOUT)


def test_a_machine_without_any_broker_is_told_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr("deploy.up.broker.SYSTEM_FOLDERS", "")
    monkeypatch.setitem(sys.modules, "amqtt", None)
    with pytest.raises(StartRefused, match=r"install mosquitto, or .*heelmark\[demo\]"):
        broker_spec(UpSettings(data=tmp_path), {"PATH": str(tmp_path)})
