"""Every kind of fault that a storm brings on."""

from __future__ import annotations

import contextlib
import signal
import sqlite3
import time
from collections.abc import Callable
from random import Random

from tests.faults.processes import MachineTime
from tests.faults.stage import Stage
from tests.support.proxy import Proxy

MINUTE_S = 60.0
Fault = Callable[[], None]


class Wrongs:
    """What can go wrong on a stage; each is over when its method returns, though things may still be starting.

    Parameters
    ----------
    stage : Stage
        What it is done to.
    rng : Random
        Decides how long and how far.
    longest_s : float
        No freeze or hold is longer, except those of a minute, [s].
    """

    def __init__(self, stage: Stage, rng: Random, longest_s: float = 3.0) -> None:
        self.stage, self.rng, self.longest_s = stage, rng, longest_s

    def kinds(self) -> dict[str, Fault]:
        """Every kind that this machine can bring on, by name."""
        stage = self.stage
        kinds: dict[str, Fault] = {
            "worker killed": self.worker_killed,
            "broker killed": self.broker_killed,
            "service killed": self.service_killed,
            "PostgreSQL killed": self.postgres_killed,
            "inbox locked": self.inbox_locked,
            "disk full": self.disk_full,
        }
        kinds |= {f"{name} frozen": self._frozen(signal_to) for name, signal_to in self._signals().items()}
        links = {
            "worker-broker": stage.to_broker,
            "gateway-broker": stage.from_gateway,
            "worker-service": stage.to_service,
            "service-PostgreSQL": stage.to_database,
        }
        for name, proxy in links.items():
            kinds[f"{name} cut"] = proxy.cut
            kinds[f"{name} reset"] = proxy.reset
            kinds[f"{name} held"] = self._held(proxy)
            kinds[f"{name} refused"] = self._refused(proxy)
        if stage.disk.is_own:
            kinds["disk read-only"] = self.disk_read_only
            kinds |= self.losses_of_power()
        if MachineTime.compiler() is not None:
            kinds |= {f"{name}'s clock set {way}": self._jump(name, way) for name, way in JUMPS}
        return kinds

    def losses_of_power(self) -> dict[str, Fault]:
        """What happens to a machine without power, where the disks are our own."""
        return {
            "worker without power": self.worker_without_power,
            "PostgreSQL without power": self.postgres_without_power,
        }

    def _signals(self) -> dict[str, Callable[[int], None]]:
        stage = self.stage

        def to_broker(number: int) -> None:
            assert stage.broker.process is not None
            stage.broker.process.send_signal(number)

        return {
            "worker": stage.worker.signal,
            "service": stage.service.signal,
            "broker": to_broker,
            "PostgreSQL": stage.postgres.signal,
        }

    def minutes(self) -> dict[str, Fault]:
        """A whole minute of SIGSTOP of each process."""
        return {
            f"{name} frozen for a minute": self._frozen(signal_to, MINUTE_S)
            for name, signal_to in self._signals().items()
        }

    def _a_while(self) -> float:
        return self.rng.uniform(0.1, 1.0) * self.longest_s

    def worker_killed(self) -> None:
        """Kill -9 the worker and start it again."""
        self.stage.worker.kill()
        self.stage.worker.start()

    def service_killed(self) -> None:
        """Kill -9 the service with all of its processes and start it again."""
        self.stage.service.kill()
        self.stage.service.start()

    def broker_killed(self) -> None:
        """Kill -9 the broker and start it again on what it had saved, at most a second old."""
        self.stage.broker.kill()
        time.sleep(self._a_while() / 4)
        self.stage.broker.start()

    def postgres_killed(self) -> None:
        """Kill -9 PostgreSQL with all of its processes and start it again."""
        self.stage.postgres.kill()
        time.sleep(self._a_while() / 4)
        self.stage.postgres.start()

    def worker_without_power(self) -> None:
        """The worker's machine dies, forgets what was not synced, and starts again."""
        worker = self.stage.worker
        self.stage.disk.lose_power(lambda: worker.signal(signal.SIGSTOP), worker.kill)
        worker.start()

    def postgres_without_power(self) -> None:
        """The database's machine dies, forgets what was not synced, and starts again."""
        postgres = self.stage.postgres
        postgres.disk.lose_power(lambda: postgres.signal(signal.SIGSTOP), postgres.kill)
        time.sleep(self._a_while() / 4)
        postgres.start()

    def _frozen(self, signal_to: Callable[[int], None], for_s: float | None = None) -> Fault:
        def freeze() -> None:
            signal_to(signal.SIGSTOP)
            time.sleep(self._a_while() if for_s is None else for_s)
            signal_to(signal.SIGCONT)

        return freeze

    def _held(self, proxy: Proxy) -> Fault:
        def hold() -> None:
            proxy.hold(True)
            time.sleep(self._a_while())
            proxy.hold(False)

        return hold

    def _refused(self, proxy: Proxy) -> Fault:
        def refuse() -> None:
            proxy.refuse(True)
            time.sleep(self._a_while())
            proxy.refuse(False)

        return refuse

    def inbox_locked(self) -> None:
        """Hold the worker's file locked, as a backup may."""
        path = self.stage.folder / "worker" / "worker.sqlite"
        other = sqlite3.connect(path, timeout=1.0, isolation_level=None)
        with contextlib.closing(other), contextlib.suppress(sqlite3.OperationalError):
            other.execute("BEGIN IMMEDIATE")
            time.sleep(self._a_while())
            other.execute("ROLLBACK")

    def disk_full(self) -> None:
        """Leave no room on the worker's disk for a while; kill the worker meanwhile half of the times."""
        stage, pid = self.stage, self.stage.worker_pid
        stage.disk.fill(pid)
        time.sleep(self._a_while())
        if self.rng.random() < 0.5:
            stage.worker.kill()
            stage.disk.free(pid)
            stage.worker.start()
        else:
            stage.disk.free(pid)

    def disk_read_only(self) -> None:
        """Have the worker's disk fail under it, then put it right as a person would: stop, check, mount, start."""
        stage = self.stage
        stage.disk.fail()
        time.sleep(self._a_while())
        stage.worker.kill()
        stage.disk.repair()
        stage.worker.start()

    def _jump(self, name: str, way: str) -> Fault:
        def jump() -> None:
            clock = self.stage.clocks[name]
            clock.set((1 if way == "ahead" else -1) * self.rng.choice(JUMP_S))
            time.sleep(self._a_while())
            if name == "worker" and self.rng.random() < 0.3:
                self.worker_killed()
                time.sleep(self._a_while())
            clock.set(0)

        return jump


JUMP_S = (45, 300, 3600, 86400)
"""How far a clock is set off the true time, [s]."""
JUMPS = [(name, way) for name in ("worker", "service") for way in ("ahead", "back")]
