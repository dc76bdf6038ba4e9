"""The manifests, as `kubectl` would apply them, against Kubernetes' own schemas and our own rules."""

import shutil
import subprocess
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml

MANIFESTS = Path(__file__).parents[2] / "deploy" / "kubernetes"
DOCUMENTS = [
    document
    for path in sorted(MANIFESTS.glob("*.yaml"))
    if path.name != "kustomization.yaml"
    for document in yaml.safe_load_all(path.read_text())
]


def name(document: dict[str, Any]) -> str:
    return f"{document['kind']}/{document['metadata']['name']}"


def pod(document: dict[str, Any]) -> dict[str, Any] | None:
    spec = document.get("spec", {})
    template = spec.get("jobTemplate", {}).get("spec", spec).get("template")
    return template and template["spec"]


PODS = [document for document in DOCUMENTS if pod(document)]


@pytest.mark.parametrize("document", DOCUMENTS, ids=name)
@pytest.mark.parametrize("version", ["1.30", "1.37"])
def test_every_manifest_fits_the_schema_of_kubernetes(document: dict[str, Any], version: str) -> None:
    kubernetes_validate.validate(document, version, strict=True)


@pytest.mark.parametrize("document", PODS, ids=name)
def test_every_pod_is_locked_down(document: dict[str, Any]) -> None:
    """The `restricted` Pod Security Standard, and a read-only file system beyond it."""
    spec = pod(document)
    assert spec is not None
    assert spec["automountServiceAccountToken"] is False
    assert spec["securityContext"]["runAsNonRoot"] is True
    assert spec["securityContext"]["runAsUser"] > 0
    assert spec["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    for container in [*spec.get("initContainers", []), *spec["containers"]]:
        locked = container["securityContext"]
        assert locked["readOnlyRootFilesystem"] is True
        assert locked["allowPrivilegeEscalation"] is False
        assert locked["capabilities"] == {"drop": ["ALL"]}
        assert {"requests", "limits"} <= container["resources"].keys()


def test_what_serves_has_probes_a_budget_and_an_autoscaler() -> None:
    made = {name(document): document for document in DOCUMENTS}
    container = pod(made["Deployment/service"])["containers"][0]
    assert {"startupProbe", "livenessProbe", "readinessProbe"} <= container.keys()
    assert made["HorizontalPodAutoscaler/service"]["spec"]["minReplicas"] >= 2
    for what in ("service", "watch", "deliverer", "worker", "broker"):
        kind = "Deployment" if f"Deployment/{what}" in made else "StatefulSet"
        labels = made[f"{kind}/{what}"]["spec"]["selector"]["matchLabels"]
        assert made[f"PodDisruptionBudget/{what}"]["spec"]["selector"]["matchLabels"] == labels


def test_no_secret_is_written_in_a_manifest() -> None:
    assert not [d for d in DOCUMENTS if d["kind"] == "Secret"]


def test_the_nightly_backup_is_kept_in_a_volume_of_its_own_and_never_runs_twice_at_once() -> None:
    made = {name(document): document for document in DOCUMENTS}
    spec = made["CronJob/backup"]["spec"]
    (container,) = pod(made["CronJob/backup"])["containers"]
    assert spec["concurrencyPolicy"] == "Forbid"
    folder = next(m["mountPath"] for m in container["volumeMounts"] if m["name"] == "backups")
    assert folder in container["command"]
    assert "PersistentVolumeClaim/backups" in made


def test_volumes_mounted_are_volumes_defined() -> None:
    for document in PODS:
        spec = pod(document)
        defined = {volume["name"] for volume in spec.get("volumes", [])}
        defined |= {c["metadata"]["name"] for c in document["spec"].get("volumeClaimTemplates", [])}
        for container in [*spec.get("initContainers", []), *spec["containers"]]:
            assert {mount["name"] for mount in container["volumeMounts"]} <= defined, name(document)


@pytest.mark.skipif(shutil.which("kubectl") is None, reason="no kubectl on this machine")
def test_kustomize_builds_all_of_it() -> None:
    built = subprocess.run(
        ["kubectl", "kustomize", str(MANIFESTS)], capture_output=True, text=True, check=True
    )
    documents = list(yaml.safe_load_all(built.stdout))
    assert {name(d) for d in DOCUMENTS} <= {name(d) for d in documents}
    assert "heelmark:0.1.0" in built.stdout
