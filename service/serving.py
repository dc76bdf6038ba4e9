"""How gunicorn serves: ``gunicorn --config python:service.serving service.wsgi:app``.

One process over SQLite, which has one writer; several over PostgreSQL. Threads are cheap and running out of
them is fatal, so there is one for every event stream that the cap allows and sixteen for requests beside them.
Waiting for slow clients takes none: see `service.buffering`.
"""

import os
import resource
import shutil
import tempfile
from typing import Any

from environs import Env

from service.settings import load_settings

_env = Env()
_streams = _env.int("HEELMARK_STREAM_CAP", 128)
_fleet = load_settings().database_url.startswith("postgresql")

_host, _port = _env.str("HEELMARK_BIND", "127.0.0.1"), _env.int("HEELMARK_HTTP_PORT", 8642)
bind = f"{_host}:{_port}"
worker_class = "service.buffering.BufferingWorker"
worker_connections = _streams + 1000
workers = _env.int("HEELMARK_SERVER_PROCESSES", 2 if _fleet else 1)
threads = _streams + 16
timeout = 60
graceful_timeout = 25
keepalive = 15
# Memory that grows over weeks is given back, where another process serves meanwhile; jitter keeps them from
# restarting together.
max_requests = 200_000 if workers > 1 else 0
max_requests_jitter = 20_000
limit_request_line = 4094
limit_request_fields = 60
limit_request_field_size = 8190
worker_tmp_dir = "/dev/shm" if os.path.isdir("/dev/shm") else None  # noqa: S108, PTH112
control_socket_disable = True
# Files are written like everything else, so that a slow reader holds up no thread.
sendfile = False

# Several processes add up their figures; set before any of them imports what it measures.
_figures = tempfile.mkdtemp(prefix="heelmark-metrics-") if workers > 1 else None
if _figures is not None:
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = _figures

# A connection is a file, and the usual limit of 1024 is soon reached.
_soft, _hard = resource.getrlimit(resource.RLIMIT_NOFILE)
resource.setrlimit(resource.RLIMIT_NOFILE, (max(_soft, min(_hard, 65_536)), _hard))


def child_exit(_server: Any, worker: Any) -> None:
    """Take a dead process's gauges out of the sums."""
    if _figures is not None:
        from prometheus_client import multiprocess

        multiprocess.mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]


def on_exit(_server: Any) -> None:
    """Leave nothing behind."""
    if _figures is not None:
        shutil.rmtree(_figures, ignore_errors=True)
