"""The pods of `deploy/kubernetes` on one machine, by `podman kube play`, in the order of its README.

A cluster's own work is done here instead: what makes pods (Deployment, StatefulSet, Job, CronJob) becomes its pod;
every volume is a folder that belongs to the pod's `fsGroup`, as a cluster gives them. Left out is what this engine does
not know: probes, which the tests ask for themselves, and limits.
"""

import json
import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import yaml

from tests.containers.installation import (
    HOST,
    IMAGE,
    NAME,
    STANDINS,
    Installation,
    copy_of_checkout,
    podman,
)
from tests.containers.installation import missing as no_containers
from tests.support.stack import free_ports, wait_for

NETWORK, DATABASE = "heelmark-pods", "heelmark-pods-database"
SERVE = ("service", "watch", "deliverer", "broker")
KINDS = (*SERVE, "worker")
UNKNOWN = {
    "serviceAccountName",
    "automountServiceAccountToken",
    "topologySpreadConstraints",
    "terminationGracePeriodSeconds",
}
PROBES = {"startupProbe", "livenessProbe", "readinessProbe", "lifecycle", "resources"}
SECRETS = {
    "heelmark": ("secrets", ("database-url", "secret-key", "worker-token", "mqtt-password")),
    "heelmark-broker-tls": ("tls", ("tls.crt", "tls.key", "ca.crt")),
}
"""What step 2 of the README makes secrets of: in which folder of `deploy/compose` each is."""
EMPTIED = (
    "export PGPASSWORD=$(cat /password); dropdb -U heelmark --force heelmark && createdb -U heelmark heelmark"
)
Manifest = dict[str, Any]


def missing() -> str | None:
    """Why no pods can be run here; None where they can."""
    if why := no_containers():
        return why
    if any(subprocess.run(["podman", "pod", "exists", kind]).returncode == 0 for kind in KINDS):
        return "pods of these names run here already"
    return None


class Pods(Installation):
    """The pods of one cluster, and a database outside of it."""

    def __init__(self, folder: Path) -> None:
        copy_of_checkout(folder)
        self.folder, self.compose = folder, folder / "deploy" / "compose"
        self.http_port, mqtts = free_ports(2)
        super().__init__(f"http://{HOST}:{self.http_port}", mqtts, self.compose / "tls" / "ca.crt")
        self.image, self.made = IMAGE, self._manifests()

    def _manifests(self) -> dict[str, Manifest]:
        paths = sorted((self.folder / "deploy" / "kubernetes").glob("*.yaml"))
        found = [one for path in paths for one in yaml.safe_load_all(path.read_text())]
        return {f"{one['kind']}/{one['metadata']['name']}": one for one in found if "metadata" in one}

    def prepare(self) -> None:
        """Step 2, and a database that is there."""
        environ = os.environ | {"HEELMARK_HOST": NAME, "HEELMARK_ALSO": "broker"}
        subprocess.run(["sh", str(self.compose / "prepare.sh")], env=environ, check=True, capture_output=True)
        password = (self.compose / "secrets" / "database-password").read_text()
        (self.compose / "secrets" / "database-url").write_text(
            f"postgresql://heelmark:{password}@{DATABASE}/heelmark"
        )
        podman("network", "create", NETWORK)
        mount = f"{self.compose / 'secrets' / 'database-password'}:/password:ro"
        settings = ("POSTGRES_USER=heelmark", "POSTGRES_DB=heelmark", "POSTGRES_PASSWORD_FILE=/password")
        encoded = "POSTGRES_INITDB_ARGS=--auth=scram-sha-256 --encoding=UTF8"
        options = [part for one in (*settings, encoded) for part in ("--env", one)]
        options += ["--user", "70:70", "--network", NETWORK, "--volume", mount]
        podman("run", "--detach", "--name", DATABASE, *options, STANDINS[0])
        answers = ["podman", "exec", DATABASE, "pg_isready", "--host", "127.0.0.1", "--dbname", "heelmark"]
        wait_for(lambda: subprocess.run(answers, capture_output=True).returncode == 0, within_s=60)

    def start(self) -> None:
        """Steps 3 and 4: everything but the worker, the first people and tokens, then the worker."""
        self.once("migrate")
        for name in SERVE:
            self.play(name)
        wait_for(self._serves, within_s=90)
        first = self.operate("first-run", "--time-zone", "America/Denver")
        if "{" in first:
            self.told = json.loads(first[first.index("{") : first.rindex("}") + 1])
        token = self.compose / "secrets" / "worker-token"
        if not token.read_text():
            token.write_text(self.operate("token", "create", "worker", "--scope", "worker"))
        self.play("worker")

    def _serves(self) -> bool:
        probe = [
            "podman",
            "exec",
            "service-service",
            "heelmark",
            "probe",
            "http://127.0.0.1:8642/readyz?part=serving",
        ]
        return subprocess.run(probe, capture_output=True).returncode == 0

    def operate(self, *arguments: str) -> str:
        """A command of the README's, in the service's container."""
        return podman("exec", "service-service", "heelmark", *arguments)

    def play(self, name: str) -> None:
        """Have the pod of that name run, what comes first to its end before: the engine would restart that too."""
        pod = self._pod(name)
        if first := pod["spec"].pop("initContainers", []):
            spec = {**pod["spec"], "containers": first, "restartPolicy": "Never"}
            self._to_its_end({**pod, "metadata": {"name": f"{name}-first"}, "spec": spec})
        self._play(pod)

    def once(self, name: str, command: list[str] | None = None) -> str:
        """Run the pod of a Job to its end, perhaps with another command; what it said."""
        pod = self._pod(name)
        container = pod["spec"]["containers"][0]
        container["command"] = command or container["command"]
        return self._to_its_end(pod)

    def _to_its_end(self, pod: Manifest) -> str:
        self._play(pod)
        name, container = pod["metadata"]["name"], pod["spec"]["containers"][0]
        called = f"{name}-{container['name']}"
        code = podman("wait", called).strip()
        said = subprocess.run(["podman", "logs", called], capture_output=True, text=True)
        podman("pod", "rm", "--force", name)
        assert code == "0", said.stdout + said.stderr
        return said.stdout

    def stop(self, *names: str) -> None:
        """What scaling to nothing does."""
        for name in names:
            podman("pod", "rm", "--force", "--time", "30", name)

    def end(self) -> None:
        """Remove everything."""
        for name in (*KINDS, "broker-first", "migrate", "backup"):
            subprocess.run(["podman", "pod", "rm", "--force", "--time", "1", name], capture_output=True)
        subprocess.run(["podman", "rm", "--force", "--volumes", "--time", "1", DATABASE], capture_output=True)
        subprocess.run(["podman", "network", "rm", "--force", NETWORK], capture_output=True)

    def _play(self, pod: Manifest) -> None:
        file = self.folder / f"{pod['metadata']['name']}.yaml"
        file.write_text(yaml.safe_dump_all([self.made["ConfigMap/heelmark"], pod]))
        podman("kube", "play", "--network", NETWORK, str(file))

    def _pod(self, name: str) -> Manifest:
        owner = next(one for one in self.made.values() if one["metadata"]["name"] == name and _template(one))
        template = json.loads(json.dumps(_template(owner)))
        spec = {key: value for key, value in template["spec"].items() if key not in UNKNOWN}
        claims = owner["spec"].get("volumeClaimTemplates", [])
        volumes = [
            *spec.get("volumes", []),
            *({"name": one["metadata"]["name"], "claim": name} for one in claims),
        ]
        group = spec["securityContext"].pop("fsGroup")
        spec["volumes"] = [self._folder(name, volume, group) for volume in volumes]
        spec.setdefault("restartPolicy", "Always")
        for container in [*spec.get("initContainers", []), *spec["containers"]]:
            self._fit(container)
        metadata = {"name": name, "labels": template["metadata"]["labels"]}
        return {"apiVersion": "v1", "kind": "Pod", "metadata": metadata, "spec": spec}

    def _fit(self, container: Manifest) -> None:
        for key in PROBES & container.keys():
            del container[key]
        container["image"] = self.image if container["image"] == "heelmark" else STANDINS[1]
        container["imagePullPolicy"] = "Never"
        outside = {"http": self.http_port, "mqtts": self.mqtt_port}
        for port in container.get("ports", []):
            if port["name"] in outside:
                port |= {"hostPort": outside[port["name"]], "hostIP": "127.0.0.1"}

    def _folder(self, pod: str, volume: Manifest, group: int) -> Manifest:
        """A folder with what a cluster would put in; claims keep theirs, all else starts empty with the pod."""
        claim = volume.get("persistentVolumeClaim", {}).get("claimName") or volume.get("claim")
        folder = self.folder / "volumes" / (claim or f"{pod}-{volume['name']}")
        if not claim:
            shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, exist_ok=True)
        for path in self._files(volume):
            kept = shutil.copy(path, folder / path.name)
            os.chown(kept, 0, group)
            kept.chmod(0o440)
        os.chown(folder, 0, group)
        folder.chmod(0o2770)
        return {"name": volume["name"], "hostPath": {"path": str(folder), "type": "Directory"}}

    def _files(self, volume: Manifest) -> list[Path]:
        if "configMap" in volume:
            return [self.folder / "deploy" / "broker" / "mosquitto.conf"]
        if "secret" not in volume:
            return []
        where, names = SECRETS[volume["secret"]["secretName"]]
        wanted = [item["key"] for item in volume["secret"].get("items", [])] or names
        return [self.compose / where / name for name in wanted]


def _template(owner: Manifest) -> Manifest | None:
    spec = owner.get("spec", {})
    found: Manifest | None = spec.get("jobTemplate", {}).get("spec", spec).get("template")
    return found
