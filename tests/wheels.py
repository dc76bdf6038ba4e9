"""``python -m tests.wheels``: has every package that runs a wheel for 64-bit ARM, as single-board computers need it?

Nothing is installed: pip only resolves what is locked. Exit code 0 when each has one, or when the package index does
not answer (which is said); 1 with pip's sentence when one has none.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

LOCK = Path(__file__).parents[1] / "deploy" / "requirements.lock"
PLATFORMS = ("manylinux_2_28_aarch64", "manylinux_2_17_aarch64", "manylinux2014_aarch64")
"""Debian 11 and later has the C library of these (PEP 600)."""
TIME_S = 240
AWAY = ("connection", "retrying", "temporary failure", "timed out", "network is unreachable")


def main() -> int:
    """Ask, and say what was found."""
    with tempfile.TemporaryDirectory() as target:
        command = [
            *(sys.executable, "-m", "pip", "install", "--dry-run", "--no-deps", "--only-binary", ":all:"),
            *(word for platform in PLATFORMS for word in ("--platform", platform)),
            *("--python-version", "3.11", "--implementation", "cp", "--target", target, "-r", str(LOCK)),
        ]
        try:
            asked = subprocess.run(command, capture_output=True, text=True, timeout=TIME_S)
        except (subprocess.TimeoutExpired, OSError) as error:
            print(f"not looked up: the package index does not answer ({type(error).__name__})")
            return 0
    return judge(asked.returncode, asked.stdout, asked.stderr)


def judge(code: int, said: str, complained: str) -> int:
    """What pip's answer means."""
    if code == 0:
        would = next((line for line in said.splitlines() if line.startswith("Would install")), "")
        print(f"{len(would.split()) - 2} packages have a wheel for 64-bit ARM")
        return 0
    if any(word in complained.lower() for word in AWAY):
        print("not looked up: the package index does not answer")
        return 0
    print(complained.strip())
    return 1


if __name__ == "__main__":
    sys.exit(main())
