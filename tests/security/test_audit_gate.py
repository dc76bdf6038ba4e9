"""The audit of dependencies fails for a known vulnerability, and says when it could not ask."""

import pytest

from tests.audit import judge


def test_a_known_vulnerability_fails(capsys: pytest.CaptureFixture[str]) -> None:
    found = [
        {"name": "a", "version": "1", "vulns": [{"id": "CVE-1"}]},
        {"name": "b", "version": "2", "vulns": []},
    ]
    assert judge(found) == 1
    assert "a 1: CVE-1" in capsys.readouterr().out


def test_an_index_that_does_not_answer_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert judge([{"name": "a", "skip_reason": "not found"}]) == 0
    assert "not audited" in capsys.readouterr().out


def test_nothing_known_passes() -> None:
    assert judge([{"name": "a", "version": "1", "vulns": []}]) == 0
