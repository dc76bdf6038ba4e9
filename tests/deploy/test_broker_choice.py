"""Which broker the stack takes, and what it keeps of an older installation's."""

import json
import sys

import pytest

from deploy.up.broker import broker_files_environment, broker_spec
from deploy.up.credentials import broker_credentials
from deploy.up.refusal import StartRefused
from deploy.up.settings import UpSettings


def test_a_machine_without_any_broker_is_told_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr("deploy.up.broker.SYSTEM_FOLDERS", "")
    monkeypatch.setitem(sys.modules, "amqtt", None)
    with pytest.raises(StartRefused, match=r"install mosquitto, or .*heelmark\[demo\]"):
        broker_spec(UpSettings(data=tmp_path), {"PATH": str(tmp_path)})


def test_mosquitto_by_name_without_mosquitto_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("deploy.up.broker.SYSTEM_FOLDERS", "")
    settings = UpSettings(data=tmp_path, broker="mosquitto")
    with pytest.raises(StartRefused, match="no mosquitto is on the path"):
        broker_spec(settings, {"PATH": str(tmp_path)})


def test_a_data_folder_of_version_0_1_keeps_its_sessions_name_and_its_gateways(tmp_path):
    (tmp_path / "broker").mkdir()
    kept = {"gateway_password": "kept by the gateways", "worker_password": "kept by the worker"}
    (tmp_path / "broker" / "credentials.json").write_text(json.dumps(kept))
    made = broker_credentials(tmp_path, "heelmark")
    assert made.worker_user == "heelmark-ingest-all"
    told = broker_files_environment(UpSettings(data=tmp_path), made, {})
    assert told["HEELMARK_MQTT_SHARED_GATEWAY_PASSWORD"] == "kept by the gateways"
