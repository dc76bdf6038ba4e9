"""Everything a storm needs, running: broker, PostgreSQL, service, worker and gateway, with a proxy on every link."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.faults.disk import Disk
from tests.faults.processes import MachineTime, Postgres, Process, Service, wait_for
from tests.faults.season import Season
from tests.support.broker import Broker
from tests.support.gateway import Gateway
from tests.support.proxy import Proxy
from tests.support.waiting import worker_status


class Stage:
    """The processes of one storm."""

    def __init__(self, folder: Path, season: Season) -> None:
        self.folder, self.season = folder, season
        self._ending: list[Callable[[], object]] = []
        try:
            self._set_up(folder)
        except BaseException:
            self.end()
            raise

    def _set_up(self, folder: Path) -> None:
        self.clocks = {name: MachineTime(folder / f"{name}.clock") for name in ("worker", "service")}
        self.disk = Disk(folder / "worker")
        self._ending.append(self.disk.remove)
        self.postgres = Postgres()
        self._ending.append(self.postgres.remove)
        self.postgres.start()
        self.to_database = self._proxy(self.postgres.port)
        through = self.postgres.url.replace(f":{self.postgres.port}/", f":{self.to_database.port}/")
        self.service = Service(folder, self.postgres.url, through, self.clocks["service"])
        self._ending.append(self.service.kill)
        self.service.start()
        assert wait_for(self.service.ready, 60.0), "the service did not start"
        self.broker = Broker(folder / "broker", persistent=True).start()
        self._ending.append(self.broker.kill)
        self.to_broker, self.from_gateway = self._proxy(self.broker.port), self._proxy(self.broker.port)
        self.to_service = self._proxy(self.service.port)
        self.worker = Process(
            [sys.executable, "-m", "ingest", "run"], self._of_worker(), folder / "worker.log"
        )
        self._ending.append(self.worker.kill)
        self.gateway: Gateway | None = None

    def _proxy(self, port: int) -> Proxy:
        proxy = Proxy(port).start()
        self._ending.append(proxy.stop)
        return proxy

    def _of_worker(self) -> dict[str, str]:
        plain = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")}
        settings = {
            "HEELMARK_SERVICE_URL": f"http://127.0.0.1:{self.to_service.port}",
            "HEELMARK_WORKER_TOKEN": self.service.tokens["worker"],
            "HEELMARK_MQTT_PORT": str(self.to_broker.port),
            "HEELMARK_WORKER_DATA": str(self.folder / "worker"),
        }
        return plain | settings | self.clocks["worker"].environ()

    def begin(self) -> None:
        """Start the worker, wait until it follows every hookup, and let the gateway begin."""
        self.worker.start()
        count = len(self.season.devices)
        ready = wait_for(
            lambda: self.status().get("sessions") == count and self.status().get("connected"), 60.0
        )
        assert ready, (self.folder / "worker.log").read_text()[-3000:]
        self.gateway = Gateway(self.from_gateway.port, self.season.packs, self.season.rate)
        self.gateway.start()
        self._ending.append(self.gateway.stop)

    def status(self) -> dict[str, Any]:
        """What the worker last said of itself."""
        return worker_status(self.folder / "worker")

    @property
    def worker_pid(self) -> int:
        """The worker's process."""
        assert self.worker.running is not None
        return self.worker.running.pid

    def end(self) -> None:
        """End everything that was started, the last first."""
        while self._ending:
            self._ending.pop()()
