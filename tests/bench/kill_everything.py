"""Kills each part of a running service in the middle of each work, again and again, and counts.

    python tests/bench/kill_everything.py --rounds 3
    python tests/bench/kill_everything.py --pairs import:worker,merge:database --json

It starts a private PostgreSQL and Valkey, gunicorn, a Celery worker and beat, kills one of the five with
SIGKILL at a random moment of a work, starts it again, drives the work to its end, and counts what is lost and
what is there twice. A work that was over before the kill is done again, with an earlier one. At the end every
rule about the records is looked through.
"""

import argparse
import json
import os
import random
import sys
import tempfile
import threading
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.kill_town import NAMES, Town, migrate, steady
from tests.provider import Treatment, serving

LONGEST_SECONDS = 240.0
# What makes no step for so long waits for a lease to run out; each time twice as long, since the lease that is
# made to run out may be that of somebody alive, who is slow.
STILL_SECONDS = 6.0
PAUSE_SECONDS = 0.15
# How often a part is killed at most until it was within the work: each time half as late.
AIMS = 5


@dataclass
class Row:
    """One line of the table: a work, what was killed, and what came of it."""

    work: str
    killed: str
    rounds: int = 0
    in_the_middle: int = 0
    lost: int = 0
    doubled: int = 0
    not_ended: int = 0
    seconds: float = 0.0


class Killer:
    """Kills one part at a moment, while somebody else is busy; remembers that it did."""

    def __init__(self, town: Town, name: str, after: float) -> None:
        self.killed = False
        self._town, self._name = town, name
        self._timer = threading.Timer(after, self._kill)
        self._timer.daemon = True
        self._timer.start()

    def _kill(self) -> None:
        self._town.kill(self._name)
        self.killed = True

    def over(self) -> None:
        self._timer.cancel()
        self._timer.join()


class Round:
    """One work from its beginning to its end, with one part killed on the way; or none."""

    def __init__(self, work: Any, town: Town, name: str, after: float, row: Row) -> None:
        self.work, self.town, self.name, self.after, self.row = work, town, name, after, row
        self.killer: Killer | None = None
        self.revived = not name
        self.still = STILL_SECONDS

    def run(self) -> float:
        """Drive the work to its end and count; return how long it took, in seconds."""
        from tests.bench import kill_works  # noqa: PLC0415 - set up by then

        steady(self.work.begin)
        self.began = self.moved = time.monotonic()
        if self.name:
            self.killer = Killer(self.town, self.name, self.after)
        while not self._is_over():
            self._push()
            self._revive()
            if self.revived and time.monotonic() - self.moved > self.still:
                self.still *= 2
                kill_works.expire_leases()
                self.town.look_after()
                self.moved = time.monotonic()
            time.sleep(PAUSE_SECONDS)
        took = time.monotonic() - self.began
        if self.killer is not None:
            self.killer.over()
            self._revive()
        self._count(took)
        return took

    def _push(self) -> None:
        from django.db import DatabaseError, connection  # noqa: PLC0415 - set up by then
        from kombu.exceptions import OperationalError  # noqa: PLC0415
        from redis.exceptions import RedisError  # noqa: PLC0415

        from tests.bench import kill_works  # noqa: PLC0415

        try:
            self.work.push()
        except (*kill_works.Unreachable, DatabaseError, OperationalError, RedisError):
            connection.close()

    def _revive(self) -> None:
        if self.killer is None or not self.killer.killed or self.revived:
            return
        self.row.in_the_middle += not _done(self.work)
        self.town.revive(self.name)
        self.revived, self.moved = True, time.monotonic()
        if self.name in ("web", "database", "broker"):
            self.town.wait_for_web()

    def _is_over(self) -> bool:
        if _done(self.work):
            return True
        late = time.monotonic() - self.began > LONGEST_SECONDS
        self.row.not_ended += late
        return late

    def _count(self, took: float) -> None:
        lost, doubled = steady(self.work.count)
        self.row.rounds += 1
        self.row.lost += lost
        self.row.doubled += doubled
        self.row.seconds += took


def _done(work: Any) -> bool:
    from django.db import DatabaseError, connection  # noqa: PLC0415 - set up by then

    try:
        return bool(work.is_done())
    except DatabaseError:
        connection.close()
        return False


def prepare(town: Town, provider_url: str) -> Any:
    """Make the service, and return who does everything there."""
    os.environ.update(town.settings(provider_url))
    migrate(town.found)
    import django  # noqa: PLC0415 - after the environment is set

    django.setup()
    from config import beat  # noqa: PLC0415
    from tests import builders, outbox  # noqa: PLC0415

    builders.load_defaults()
    outbox.policy(sends_email=False, most_a_day=50, most_a_week=200)
    beat.copy_schedule()
    everything = "coordinator+surgeon+film_reader+quality_lead+administrator"
    return builders.person("everything", north=everything)


def breaches() -> list[str]:
    """Return what breaks a rule about the records, in words."""
    from django.utils import timezone  # noqa: PLC0415 - set up by then

    from config import verifying  # noqa: PLC0415
    from registry.services.invariants import Looking  # noqa: PLC0415

    return [
        f"{finding.invariant.name}: {one.where}: {one.what}"
        for finding in verifying.look_through(Looking(timezone.now()))
        for one in finding.first
    ]


def run(pairs: list[tuple[str, str]], rounds: int, seed: int, folder: Path) -> dict[str, Any]:
    """Kill for so many rounds of each pair; return the table and what breaks a rule."""
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    town = Town(folder)
    rows = [Row(work, killed) for work, killed in pairs]
    broken: list[str] = []
    with serving(lambda key, times: Treatment(wait_after=chance.uniform(0, 0.3))) as provider:
        by = prepare(town, f"http://127.0.0.1:{provider.port}")
        from tests.bench import kill_works  # noqa: PLC0415 - set up by then

        town.open()
        try:
            usual = {}
            for name in dict.fromkeys(work for work, _ in pairs):
                undisturbed = Row(name, "")
                work = kill_works.WORKS[name](town, provider, by)
                usual[name] = Round(work, town, "", 0, undisturbed).run()
                print(f"undisturbed: {undisturbed}", file=sys.stderr, flush=True)
                assert (undisturbed.lost, undisturbed.doubled, undisturbed.not_ended) == (
                    0,
                    0,
                    0,
                ), undisturbed
            for number in range(rounds):
                for row in rows:
                    hits = row.in_the_middle
                    for aim in range(AIMS):
                        work = kill_works.WORKS[row.work](town, provider, by)
                        after = chance.uniform(0.05, 0.9) * usual[row.work] / 2**aim
                        Round(work, town, row.killed, after, row).run()
                        print(f"{number + 1}: {row}", file=sys.stderr, flush=True)
                        if row.in_the_middle > hits:
                            break
                town.look_after()
            kill_works.expire_leases()
            broken = steady(breaches)
        finally:
            town.close()
    return {"rows": [asdict(row) for row in rows], "broken": broken}


def table(found: dict[str, Any]) -> str:
    """Write the counts as a table."""
    names = list(Row.__dataclass_fields__)
    lines = [f"| {' | '.join(name.replace('_', ' ') for name in names)} |"]
    lines.append(f"|{'---|' * len(names)}")
    for row in found["rows"]:
        said = [f"{row[name]:.0f}" if name == "seconds" else str(row[name]) for name in names]
        lines.append(f"| {' | '.join(said)} |")
    broken = found["broken"]
    lines.append(f"rules broken: {len(broken)}")
    return "\n".join([*lines, *broken])


def main() -> None:
    """Run once and print the counts."""
    works = ("import", "messages", "snapshot", "pack", "upload", "merge")
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--pairs", help="such as import:worker,merge:database; all without it")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    pairs = [(work, name) for work in works for name in NAMES]
    if given.pairs:
        pairs = [tuple(one.split(":")) for one in given.pairs.split(",")]  # type: ignore[misc]
    with tempfile.TemporaryDirectory(prefix="hf-kill-", ignore_cleanup_errors=True) as name:
        found = run(pairs, given.rounds, given.seed, Path(name))
    sys.stdout.write(f"{json.dumps(found) if given.json else table(found)}\n")


if __name__ == "__main__":
    main()
