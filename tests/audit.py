"""``python -m tests.audit``: known vulnerabilities in what is locked, where the package index answers that.

Exit code 0 when none is known, or when the index does not answer (which is said); 1 when one is known.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

LOCK = Path(__file__).parents[1] / "requirements.lock"
TIME_S = 180


def main() -> int:
    """Ask, and say what was found."""
    command = [
        sys.executable,
        "-m",
        "pip_audit",
        "-r",
        str(LOCK),
        "--no-deps",
        "--disable-pip",
        "--format",
        "json",
    ]
    try:
        asked = subprocess.run(command, capture_output=True, text=True, timeout=TIME_S)
        found = json.loads(asked.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError, KeyError, OSError) as error:
        print(f"not audited: the package index does not answer ({type(error).__name__})")
        return 0
    return judge(found)


def judge(found: list[dict[str, Any]]) -> int:
    """What an audit's answer means."""
    audited = [entry for entry in found if "vulns" in entry]
    if not audited:
        print(f"not audited: the index answered for none of {len(found)} packages")
        return 0
    bad = [(entry["name"], entry["version"], v["id"]) for entry in audited for v in entry["vulns"]]
    for name, version, identity in bad:
        print(f"{name} {version}: {identity}")
    print(f"{len(audited)} of {len(found)} packages audited, {len(bad)} known vulnerabilities")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
