"""The trial service of one machine: web server, worker with its schedule, and broker together."""

import fcntl
import json
import os
import signal
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

from config import broker, env, processes
from config.processes import Child

READY_SECONDS = 90.0
LOOK_SECONDS = 0.2
WEB = (
    *("--preload", "--workers=2", "--worker-class=gthread", "--threads=4"),
    *("--timeout=120", "--graceful-timeout=5", "--no-control-socket", "--log-level=warning"),
)
WORKER = (
    *("-A", "config.celery", "worker", "--beat", "--concurrency=1", "--loglevel=WARNING"),
    *("--without-gossip", "--without-mingle"),
)


class TrialFault(Exception):
    """The service cannot start or go on; the text says why, in words for the user."""


@contextmanager
def alone(data: Path) -> Iterator[None]:
    """Hold the data folder, so that two services never write to one; raise TrialFault if held."""
    with (data / "serve.lock").open("a+") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            lock.seek(0)
            raise TrialFault(
                f"another Holdfast (process {lock.read().strip()}) already serves {data}: "
                "stop it first"
            ) from None
        lock.truncate(0)
        lock.write(str(os.getpid()))
        lock.flush()
        yield


@contextmanager
def stopped_by_signals() -> Iterator[None]:
    """Turn every request to end into what Ctrl-C does: SIGTERM, a closed terminal, and Ctrl-C itself.

    A shell lets what it starts in the background ignore Ctrl-C's signal; sent on purpose it counts.
    """

    def interrupt(number: int, frame: object) -> NoReturn:
        raise KeyboardInterrupt

    # A hang-up that is ignored already (nohup) stays so.
    wanted = [signal.SIGINT, signal.SIGTERM]
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        wanted.append(signal.SIGHUP)
    kept = {each: signal.signal(each, interrupt) for each in wanted}
    try:
        yield
    finally:
        for each, handler in kept.items():
            signal.signal(each, handler)


@contextmanager
def running(port: int, *, data: Path) -> Iterator[list[Child]]:
    """Run everything inside the block and stop it afterwards, the broker last."""
    logs = data / "log"
    children: list[Child] = []
    with broker.private_socket_folder() as sockets:
        try:
            found = _broker(sockets, data, logs, children)
            here = env.text("HOLDFAST_PUBLIC_URL", f"http://127.0.0.1:{port}")
            settings = env.with_settings(**found, HOLDFAST_PUBLIC_URL=here)
            python = sys.executable
            web = [python, "-m", "gunicorn", "config.wsgi", f"--bind=127.0.0.1:{port}", *WEB]
            pooled = {"HOLDFAST_DB_POOL": "8", **settings}
            children.append(processes.start("web server", web, logs=logs, env=pooled))
            worker = [python, "-m", "celery", *WORKER]
            children.append(processes.start("worker", worker, logs=logs, env=settings))
            yield children
        finally:
            _stop(children)


def wait_until_ready(children: list[Child], port: int) -> None:
    """Return once pages are served and the worker works; raise TrialFault if that fails."""
    until = time.monotonic() + READY_SECONDS
    while not _answers(port):
        refuse_dead(children)
        if time.monotonic() > until:
            raise TrialFault(
                f"the service did not come up within {READY_SECONDS:.0f} s: "
                f"see {children[0].log.parent}"
            )
        time.sleep(LOOK_SECONDS)


def watch(children: list[Child]) -> NoReturn:
    """Stay until a child dies, which raises TrialFault, or until interrupted."""
    while True:
        refuse_dead(children)
        time.sleep(LOOK_SECONDS)


def refuse_dead(children: list[Child]) -> None:
    """Raise TrialFault that names the first child that has ended, with its last words."""
    for child in children:
        if not child.is_alive():
            raise TrialFault(
                f"the {child.name} ended by itself (code {child.process.returncode}): "
                f"see {child.log}\n{child.last_words()}"
            )


def _broker(sockets: Path, data: Path, logs: Path, children: list[Child]) -> dict[str, str]:
    if env.text("HOLDFAST_REDIS"):
        return {}
    server = broker.binary()
    if server is None or env.text("HOLDFAST_BROKER"):
        # By default a folder then carries the messages: slower, and those of a killed worker are
        # lost, but what is due is found again in the tables.
        return {"HOLDFAST_CACHE_DIR": str(data / "cache")}
    started = broker.start(server, socket_folder=sockets, data=data / "broker", logs=logs)
    children.append(started.child)
    return started.settings


def _stop(children: list[Child]) -> None:
    # A second Ctrl-C must not leave half of them behind.
    kept = {each: signal.signal(each, signal.SIG_IGN) for each in (signal.SIGINT, signal.SIGTERM)}
    try:
        processes.stop([child for child in children if child.name != "broker"])
        processes.stop([child for child in children if child.name == "broker"])
    finally:
        for each, handler in kept.items():
            signal.signal(each, handler)


def _answers(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health/", timeout=5) as answer:
            said = json.load(answer)
    except (urllib.error.URLError, OSError, ValueError):
        return False
    return bool(said["works"]) and said["worker"] == "ok"
