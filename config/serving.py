"""How gunicorn serves: `gunicorn -c python:config.serving config.wsgi`."""

import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

bind = os.environ.get("HOLDFAST_BIND", "0.0.0.0:8000")
workers = int(os.environ.get("HOLDFAST_WEB_PROCESSES", "3"))
threads = int(os.environ.get("HOLDFAST_WEB_THREADS", "4"))
worker_class = "gthread"
# A large list or a film may take long; a process that is silent for longer is replaced.
timeout = 120
# What is being answered when the service is told to stop is answered to its end.
graceful_timeout = 60
# No longer than the proxy in front keeps a connection open.
keepalive = 5
# A process gives back what it gathered in memory; not all at the same request.
max_requests = 20_000
max_requests_jitter = 2_000
limit_request_line = 4094
limit_request_fields = 60
control_socket_disable = True
_folder = Path(
    os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="holdfast-numbers-"))
)


def on_starting(server: Any) -> None:
    """Begin with no numbers of a run before."""
    shutil.rmtree(_folder, ignore_errors=True)
    _folder.mkdir(parents=True, exist_ok=True)


def child_exit(server: Any, worker: Any) -> None:
    """Let the numbers of a process that ended be counted on, and its levels not."""
    # Once imported, it has decided for good whether processes count together.
    from prometheus_client import multiprocess  # noqa: PLC0415

    multiprocess.mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]
