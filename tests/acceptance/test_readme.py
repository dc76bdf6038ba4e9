"""The README's commands and then the interface tour's, one after another as a newcomer types them, on a stack."""

import json
import re
import shutil
import subprocess

import pytest

from tests.support.stack import ROOT, moved

pytestmark = pytest.mark.slow
PAGES = (ROOT / "README.md", ROOT / "service" / "handbook" / "interface.md")
FENCE = re.compile(r"^```sh\n(.*?)^```", re.M | re.S)
# HTTP errors must not pass as answers; one answer a line.
STRICT_CURL = 'curl() { command curl --fail-with-body "$@" && echo; }\n'


@pytest.fixture(scope="module")
def answers(demo_stack):
    missing = [tool for tool in ("curl", "mosquitto_pub") if shutil.which(tool) is None]
    if missing:
        pytest.skip(f"no {' and no '.join(missing)} on the path")
    commands = [command for page in PAGES for command in FENCE.findall(page.read_text(encoding="utf-8"))]
    assert len(commands) >= 5
    script = STRICT_CURL + "".join(moved(command, demo_stack) for command in commands)
    done = subprocess.run(["sh", "-eu"], input=script, capture_output=True, text=True, timeout=120, cwd=ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    return [json.loads(line) for line in done.stdout.splitlines() if line.strip()]


def test_the_first_verdict_sees_past_the_label(answers):
    """198.6 psig at 72 °F is the bubble line of R-454B, whatever the label says."""
    verdict = answers[0]
    candidates = {one["designation"]: one for one in verdict["identity"]["candidates"]}
    assert "R-454B" in candidates
    assert candidates["R-454B"]["saturation_temperature_f"] == pytest.approx(72.0, abs=1.0)
    assert verdict["contamination"]["finding"] != "none-detected"
    assert verdict["cautions"]


def test_the_answer_that_readme_shows_is_the_answer(answers):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = json.loads(re.search(r"^```json\n(.*?)^```", readme, re.M | re.S)[1])
    assert shown["identity"]["candidates"] and shown["contamination"]["probabilities"]
    assert_shown(shown, answers[0])


def assert_shown(shown, told):
    """What is shown is part of what is told; numbers are rounded to two places, probabilities within 0.05."""
    if isinstance(shown, dict):
        for name, value in shown.items():
            assert_shown(value, told[name])
    elif isinstance(shown, list):
        for one, other in zip(shown, told, strict=True):
            assert_shown(one, other)
    elif isinstance(shown, float):
        assert told == pytest.approx(shown, abs=0.05)
    else:
        assert told == shown


def test_the_first_reading_is_seen_unattached(answers):
    devices = {one["device"]: one for one in answers[1]["items"]}
    assert devices["urn:dev:ops:32473-handheld-7"]["readings"]["gauge-pressure"]["value"] == 808700


def test_the_hookup_and_the_typed_pair_end_in_a_verdict(answers):
    cylinder, hookup, recorded, verdict = answers[2:6]
    assert cylinder["serial"] == hookup["cylinder"] == "A-1001"
    assert recorded["pair"]["temperature_f"] == pytest.approx(68.0)
    assert "R-22" in [one["designation"] for one in verdict["identity"]["candidates"]]


def test_the_interface_tour_asks_before_a_valve_is_opened(answers):
    check, suitable = answers[6:]
    assert check["cylinder"] == "A-1001" and "allowed" in check
    assert "items" in suitable


def test_the_two_commands_are_the_ones_that_exist():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "sh deploy/up.sh --demo" in readme and "sh tests/run.sh" in readme
    assert (ROOT / "deploy" / "up.sh").exists() and (ROOT / "tests" / "run.sh").exists()
