"""A busy hour: `python tests/bench/busy.py --people 50 --minutes 30 --small-minutes 5 --times 100`.

Starts PostgreSQL, Valkey, the web server as `config/serving.py` has it, a worker and the schedule, each in processes
of its own; makes an invented service of 1,000 operations at 20 sites, and one of 100,000 by `multiply.py`; and lets
the people of `people.py` work in either, one after the other. Prints the times of each kind of page at both sizes
and their ratio, the errors, the memory of the processes every minute, and the statements of the database that took
100 ms or longer. Ends with 1 where there was an error. What is measured begins when everybody has signed in.

The service runs with a trial's settings: without https and second factors, which a proxy and a person take their
time for. Whoever measures works beside it on the same machine and takes from its processors.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import psycopg

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench import kill_town, slow_log
from tests.bench.kill_town import ROOT, Town

SLOW_MS = 100
TELL_SLOW = f"-c log_min_duration_statement={SLOW_MS} -c log_parameter_max_length=0"
# As compose.yaml has the database.
AS_SHIPPED = "-c shared_buffers=1GB -c work_mem=16MB -c random_page_cost=1.1 -c jit=off"
# As compose.yaml has it for one machine: connections kept by each web process.
POOL = "8"


class There(kill_town.Database):
    """A PostgreSQL that runs already and goes on: the services that were made in it are used again."""

    def __init__(self, address: str) -> None:
        self.there = address
        with psycopg.connect(address) as link:
            ((folder,),) = link.execute("SHOW data_directory").fetchall()
        self.data = Path(folder)

    @property
    def address(self) -> str:
        return self.there

    def stop(self) -> None:
        """Leave it."""


def database() -> kill_town.Database:
    """Return the server that HOLDFAST_TEST_DATABASE names, or a private one that tells what is slow."""
    named = os.environ.get("HOLDFAST_TEST_DATABASE")
    if named:
        return There(named)
    folder = Path(tempfile.mkdtemp(prefix="hf-busy-pg-"))
    return kill_town.Database(folder, f"{AS_SHIPPED} {TELL_SLOW}")


@dataclass(frozen=True)
class Hour:
    """What was measured: times and errors by kind, memory by minute, and what the database found slow."""

    rows: dict[str, dict[str, float]]
    errors: list[str]
    beaten: dict[str, int]
    memory: list[dict[str, float]]
    slow: list[slow_log.Statement]


class Busy(Town):
    """A service with a worker and a schedule as in production, over one database of several."""

    def settings_for(self, name: str, processes: int) -> dict[str, str]:
        """Say over which database the service runs."""
        found = super().settings("http://127.0.0.1:1")
        ours = {one for one in found if one.startswith(("HOLDFAST_LETTER", "HOLDFAST_DELIVERY"))}
        self.found = {text: value for text, value in found.items() if text not in ours}
        self.found |= {
            "HOLDFAST_DATABASE": f"{self.database.address.rpartition('/')[0]}/{name}",
            "HOLDFAST_DB_POOL": POOL,
            "HOLDFAST_WEB_PROCESSES": str(processes),
        }
        return self.found

    @property
    def log(self) -> Path:
        """Where the database writes what it tells."""
        return self.database.data / "log"

    def words(self, name: str) -> list[str]:
        """Return what starts a part, as production has it."""
        celery = ["-m", "celery", "-A", "config.celery"]
        if name == "worker":
            return [*celery, "worker", "--concurrency=2", "--loglevel=WARNING"]
        if name == "beat":
            return [*celery, "beat", "--loglevel=WARNING", "--pidfile="]
        return super().words(name)

    def manage(self, *words: str) -> str:
        """Run a command of the service; return what it said."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.found,
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        )
        return done.stdout

    def run(self, call: str) -> str:
        """Call something of this folder on the service's database; return what it printed."""
        words = f"from tests.bench import multiply, staffing\n{call}"
        return self.manage("shell", "-v0", "-c", words)

    def has(self, name: str) -> bool:
        """Say whether there is a database of this name."""
        with psycopg.connect(self.database.address) as link:
            found = "SELECT 1 FROM pg_database WHERE datname = %s"
            return link.execute(found, [name]).fetchone() is not None

    def make(self, name: str, *, copy_of: str = "") -> None:
        """Make a database, empty or as a copy of another."""
        with psycopg.connect(self.database.address, autocommit=True) as link:
            link.execute(f"CREATE DATABASE {name} TEMPLATE {copy_of or 'template1'}")

    @contextmanager
    def opened(self) -> Iterator[None]:
        """Serve pages; end web, worker and schedule in the end."""
        self.open()
        try:
            yield
        finally:
            kill_town.processes.stop(
                [self.children.pop(name) for name in ("beat", "worker", "web")]
            )


def chosen(names: dict[str, str], only: str | None) -> dict[str, str]:
    """Return the services that are wanted of those that there are."""
    wanted = {None: slice(None), "small": slice(1), "large": slice(-1, None)}[only]
    return dict(list(names.items())[wanted])


def told(words: str) -> None:
    """Say what goes on, at what time."""
    print(f"{time.strftime('%H:%M:%S')} {words}", flush=True)


def prepare(busy: Busy, wanted: argparse.Namespace) -> dict[str, str]:
    """Make both services where they are not there; return each one's database by its operations."""
    operations, larger = wanted.operations, wanted.operations * wanted.times
    small, large = f"busy_{operations}", f"busy_{larger}"
    if not busy.has(small):
        began = time.monotonic()
        busy.make(small)
        busy.settings_for(small, wanted.processes)
        busy.manage("migrate", "-v0", "--no-input")
        busy.manage("load_defaults")
        busy.run(f"staffing.open_service({operations}, {wanted.sites})")
        busy.run(f"staffing.hire({max(wanted.people, 50)})")
        busy.manage("copy_schedule")
        # Both are to begin with no night owed: nights are measured by nightly.py.
        busy.manage("catch_up")
        told(f"{operations} operations made in {time.monotonic() - began:.0f} s")
    names = {f"{operations}": small}
    if wanted.times > 1:
        names[f"{larger}"] = large
    if wanted.times > 1 and not busy.has(large):
        began = time.monotonic()
        busy.make(large, copy_of=small)
        busy.settings_for(large, wanted.processes)
        said = busy.run(f"multiply.tell({wanted.times})")
        told(f"times {wanted.times} in {time.monotonic() - began:.0f} s: {said.strip()}")
    for name in names.values():
        busy.settings_for(name, wanted.processes)
        began = time.monotonic()
        busy.manage("refresh_snapshot")
        told(f"{name}: snapshot made in {time.monotonic() - began:.0f} s")
    return names


def work(busy: Busy, name: str, minutes: float, wanted: argparse.Namespace) -> Hour:
    """Let the people work in a service for some minutes; return what was measured."""
    busy.settings_for(name, wanted.processes)
    given, results = busy.folder / "busy.json", busy.folder / "told.json"
    there = json.loads(busy.run("staffing.tell()").splitlines()[-1])
    given.write_text(json.dumps({**there, "told": str(results)}))
    words = ["-f", "tests/bench/people.py", "--headless", "--only-summary", "--reset-stats"]
    sized = ["-u", str(wanted.people), "-r", "1", "-t", f"{int(minutes * 60 + wanted.people)}s"]
    with busy.opened():
        skip = slow_log.length(busy.log)
        with watched(busy) as memory:
            done = subprocess.run(
                [sys.executable, "-m", "locust", *words, "-H", busy.url, *sized],
                cwd=ROOT,
                env={**os.environ, "HOLDFAST_BUSY": str(given), "PYTHONPATH": str(ROOT)},
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                check=False,
            )
        if not results.exists():
            raise SystemExit(f"nobody worked:\n{done.stdout[-3000:]}")
        found: dict[str, Any] = json.loads(results.read_text())
        results.unlink()
        return Hour(**found, memory=memory, slow=slow_log.statements(busy.log, skip))


@contextmanager
def watched(busy: Busy) -> Iterator[list[dict[str, float]]]:
    """Look every minute how much memory the processes hold, in MB, and how busy the machine is."""
    seen: list[dict[str, float]] = []
    enough = threading.Event()

    def look() -> None:
        while True:
            held = {name: _held(busy, name) for name in ("web", "worker", "beat", "broker")}
            seen.append({**held, "load": os.getloadavg()[0]})
            told(", ".join(f"{name} {number:.0f}" for name, number in seen[-1].items()))
            if enough.wait(60):
                return

    beside = threading.Thread(target=look)
    beside.start()
    try:
        yield seen
    finally:
        enough.set()
        beside.join()


def _held(busy: Busy, name: str) -> float:
    """Return what a part and its children hold for themselves, what they share counted once for each sharer."""
    top = psutil.Process(busy.children[name].process.pid)
    total = 0
    for process in (top, *top.children(recursive=True)):
        try:
            total += process.memory_full_info().pss
        except psutil.NoSuchProcess:
            continue
    return round(total / 2**20, 1)


def report(found: dict[str, Hour]) -> None:
    """Print what was measured at each size, and the ratio of the last to the first."""
    for size, hour in found.items():
        total = hour.rows["Aggregated"]
        print(f"\n{size} operations: {total['count']} answers, {total['errors']} errors")
        for line in hour.errors:
            print(f"  error: {line}")
        print(f"  told that somebody was quicker: {hour.beaten or 'nobody'}")
        print("  memory (MB) and load by minute:")
        for minute, held in enumerate(hour.memory):
            print(f"  {minute:3d}", *(f"{name} {number:.0f}" for name, number in held.items()))
        print(f"  statements of {SLOW_MS} ms or longer: {sum(one.count for one in hour.slow)}")
        for one in hour.slow:
            print(f"  {one.count:4d} times, up to {one.most_ms:.0f} ms: {one.text[:400]}")
    first, last = next(iter(found.values())), next(reversed(found.values()))
    print(
        "\nkind", *(f"{size}: count, p50, p95, p99 ms" for size in found), "ratio of p95", sep=" | "
    )
    for kind in sorted(last.rows, key=lambda one: (one == "Aggregated", one)):
        print(
            kind,
            *(_cell(hour.rows.get(kind)) for hour in found.values()),
            _ratio(first, last, kind),
            sep=" | ",
        )


def _cell(row: dict[str, float] | None) -> str:
    return (
        "-"
        if row is None
        else f"{row['count']:.0f}, " + ", ".join(f"{row[p]:.0f}" for p in ("p50", "p95", "p99"))
    )


def _ratio(first: Hour, last: Hour, kind: str) -> str:
    rows = first.rows.get(kind), last.rows.get(kind)
    if rows[0] is None or rows[1] is None or not rows[0]["p95"]:
        return "-"
    return f"{rows[1]['p95'] / rows[0]['p95']:.2f}"


def main(words: list[str]) -> int:
    """Measure, print, and return 1 where there was an error."""
    given = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    given.add_argument("--people", type=int, default=50)
    given.add_argument("--minutes", type=float, default=30, help="at the larger size")
    given.add_argument("--small-minutes", type=float, default=5, help="at the smaller size")
    given.add_argument("--operations", type=int, default=1000)
    given.add_argument("--sites", type=int, default=20)
    given.add_argument("--times", type=int, default=100)
    given.add_argument("--only", choices=("small", "large"), help="one of the two sizes")
    given.add_argument("--processes", type=int, default=3, help="of the web server")
    wanted = given.parse_args(words)
    found = {}
    with tempfile.TemporaryDirectory(prefix="holdfast-busy-") as folder:
        busy = Busy(Path(folder), database())
        try:
            names = prepare(busy, wanted)
            for size, name in chosen(names, wanted.only).items():
                minutes = wanted.small_minutes if size == f"{wanted.operations}" else wanted.minutes
                told(f"{wanted.people} people at {size} operations for {minutes:g} minutes")
                found[size] = work(busy, name, minutes, wanted)
        finally:
            busy.close()
    report(found)
    return 1 if any(hour.errors for hour in found.values()) else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
