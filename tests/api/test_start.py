"""The service starts without the equation of state."""

import subprocess
import sys
from pathlib import Path

import pytest

PROGRAM = """
import sys
import service.wsgi
assert service.wsgi.app.url_map
print("CoolProp" in sys.modules)
"""


def test_the_equation_of_state_is_not_imported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path))
    monkeypatch.setenv("HEELMARK_SECRET_KEY", "s" * 40)
    finished = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True, timeout=120
    )
    assert finished.stdout.strip() == "False"
