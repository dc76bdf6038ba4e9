"""Alert rules and dashboard: judged by promtool, and asking only for figures that there are."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
import yaml
from prometheus_client import CollectorRegistry

from ingest.runtime.metrics import Figures
from service import measures
from service.api.http.metrics import _families
from service.operations.health import Gauges, Outbox

MONITORING = Path(__file__).parents[2] / "deploy" / "monitoring"
RULES = [
    rule
    for group in yaml.safe_load((MONITORING / "alerts.yaml").read_text())["groups"]
    for rule in group["rules"]
]
DASHBOARD = json.loads((MONITORING / "dashboard.json").read_text())
QUERIES = [target["expr"] for panel in DASHBOARD["panels"] for target in panel.get("targets", [])]
promtool = pytest.mark.skipif(shutil.which("promtool") is None, reason="no promtool on this machine")


def served() -> set[str]:
    """Every name that the service, the deliverer and the worker serve."""
    families = list(measures.REGISTRY.collect())
    gauges = Gauges({"settled": 1}, {("a", "b"): 1}, {"p": 1.0}, [Outbox(1, 1, 1.0, 1)], 0, 0, 0)
    families += _families(gauges)
    status = {
        "at": 1.0,
        "connected": True,
        "sessions": 0,
        "devices": 0,
        "disk_error": None,
        "oldest_waiting_s": None,
        "outbox": {},
        "counts": {"refused:x": 1, "refused-records:x": 1, "dropped:x": 1, "posts:x": 1},
    }
    registry = CollectorRegistry()
    registry.register(Figures(lambda: status))
    families += registry.collect()
    names = {"heelmark_healthy"}
    suffixes = {"counter": ["_total"], "histogram": ["_bucket", "_count", "_sum"]}
    for family in families:
        names |= {family.name + suffix for suffix in suffixes.get(family.type, [""])}
    return names


def asked(expression: str) -> set[str]:
    return set(re.findall(r"heelmark_\w+", expression))


@promtool
def test_promtool_finds_no_fault_and_every_rule_fires_when_it_should() -> None:
    for arguments in (["check", "rules", "alerts.yaml"], ["test", "rules", "alerts.test.yaml"]):
        ran = subprocess.run(["promtool", *arguments], cwd=MONITORING, capture_output=True, text=True)
        assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule["alert"])
def test_rules_ask_for_figures_that_are_served_and_say_what_to_do(rule: dict[str, object]) -> None:
    assert asked(str(rule["expr"])) <= served()
    assert rule["labels"]["severity"] in ("critical", "warning")
    assert rule["annotations"].keys() == {"summary", "action"}


@pytest.mark.parametrize("query", QUERIES)
def test_the_dashboard_asks_for_figures_that_are_served(query: str) -> None:
    assert asked(query)
    assert asked(query) <= served()


@promtool
def test_the_dashboard_asks_in_valid_queries(tmp_path: Path) -> None:
    rules = [{"record": f"r{number}", "expr": query} for number, query in enumerate(QUERIES)]
    path = tmp_path / "queries.yaml"
    path.write_text(yaml.safe_dump({"groups": [{"name": "dashboard", "rules": rules}]}))
    ran = subprocess.run(["promtool", "check", "rules", str(path)], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_panels_have_ids_of_their_own_and_do_not_overlap() -> None:
    panels = DASHBOARD["panels"]
    assert len({panel["id"] for panel in panels}) == len(panels)
    cells = [
        (x, y)
        for panel in panels
        for x in range(panel["gridPos"]["x"], panel["gridPos"]["x"] + panel["gridPos"]["w"])
        for y in range(panel["gridPos"]["y"], panel["gridPos"]["y"] + panel["gridPos"]["h"])
    ]
    assert len(cells) == len(set(cells))
