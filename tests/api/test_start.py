"""The service and the worker run where neither the equation of state nor the demo's broker is installed."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = """
import json, sys, time

# An import of these fails as if they were not installed.
sys.modules |= dict.fromkeys(["CoolProp", "amqtt"])
import ingest.__main__
from click.testing import CliRunner
from service.cli import cli

def told(*arguments):
    done = CliRunner().invoke(cli, arguments)
    assert done.exit_code == 0, done.output
    return done.output.strip()

told("migrate")
told("first-run", "--time-zone", "America/Denver")
token = told("token", "create", "first", "--scope", "technician").split()[-1]
assert "heelmark[tables]" in CliRunner().invoke(cli, ["tabulate"]).output
from service.wsgi import app

asked = {"pairs": [{"temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}], "claimed_designation": "R-22"}

def verdict():
    headers = {"Authorization": f"Bearer {token}"}
    return app.test_client().post("/api/v1/verdicts", json=asked, headers=headers)

answer = verdict()
while answer.status_code == 503:  # the tables are being read
    time.sleep(0.1)
    answer = verdict()
print(json.dumps(answer.get_json()))
"""


def test_a_verdict_is_reached_without_what_only_tables_and_demo_need(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path))
    monkeypatch.setenv("HEELMARK_SECRET_KEY", "s" * 40)
    finished = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, timeout=240)
    assert finished.returncode == 0, finished.stderr
    verdict = json.loads(finished.stdout.splitlines()[-1])
    assert verdict["identity"]["candidates"][0]["designation"] == "R-22"
