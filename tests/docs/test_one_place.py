"""What is to be in one place is in one place."""

import re

from tests.docs.source import ROOT, modules

SERVICE = [path for path in modules() if path.is_relative_to(ROOT / "service")]
BY_A_THOUSAND = re.compile(r"[*/]\s*(?:1e3|1_?000)\b|\b(?:1e3|1_?000)(?:\.0)?\s*\*")
FEW_UNTYPED = 2
"""What is JSON for somebody else: parts of the OpenAPI document, metadata of fields."""
OF_A_PRESSURE = re.compile(r"_pa\b|kpa|pressure", re.IGNORECASE)


def test_kilopascals_become_pascals_in_one_place():
    found = {
        f"{path.relative_to(ROOT).as_posix()}: {line.strip()}"
        for path in SERVICE
        for line in path.read_text().splitlines()
        if BY_A_THOUSAND.search(line) and OF_A_PRESSURE.search(line)
    }
    assert {one.split(":")[0] for one in found} == {"service/units.py"}, found


def test_evidence_is_made_of_a_reading_and_of_a_row_alone():
    makers = {
        path.relative_to(ROOT).as_posix() for path in SERVICE if re.search(r"(?<!\w)Pair\(", path.read_text())
    }
    assert makers == {"service/operations/support/readings.py", "service/operations/verdicts.py"}


def test_a_gauge_pressure_becomes_absolute_in_one_place():
    makers = [
        path.relative_to(ROOT).as_posix()
        for path in SERVICE
        if re.search(r"gauge_pa \+|\+ \w*\.?gauge_pa", path.read_text())
    ]
    assert makers == ["service/operations/support/atmosphere.py"]


def test_the_interface_is_typed():
    """A misspelt key of a dict is found by a user; of a dataclass or a typed dict, by mypy."""
    untyped = {
        path.relative_to(ROOT).as_posix(): count
        for path in (ROOT / "service/api").rglob("*.py")
        if (count := len(re.findall(r"dict\[str, (?:Any|object)\]", path.read_text())))
    }
    assert sum(untyped.values()) <= FEW_UNTYPED, untyped
