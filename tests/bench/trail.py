"""What the trail costs: `python tests/bench/trail.py 5000`, with PostgreSQL by `tests/servers.py` before it.

Writes so many motion exams into a database of its own, as the services write (one by one, each in a
transaction with its rules, committed to the disk) and in bulk, changes them, and does all of it again
with the triggers that write the trail taken off. Rounds take turns and the fastest counts. Prints what the trail
adds, over what the same write takes without it: 1.0 would mean that it costs as much again; and what the worker
takes to seal an entry afterwards, which nobody who writes waits for.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import date, timedelta
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
ROUNDS = 5
FIRST = date(1990, 1, 1)


@contextmanager
def without_trail() -> Iterator[None]:
    """Take the triggers off."""
    from django.db import connection  # noqa: PLC0415 - after the path is set

    from registry.services import triggers  # noqa: PLC0415

    with connection.cursor() as cursor:
        for name, table in triggers.trigger_tables(connection):
            on = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER {name}{on}")
    yield
    triggers.install(connection)


def row_of(injury: Any, number: int) -> Any:
    from followup.models import MotionExam  # noqa: PLC0415

    return MotionExam(
        **{"injury": injury, "site": injury.site, "side": "left", "mode": "active"},
        **{"examined_on": FIRST + timedelta(days=number), "flexion_deg": number % 180},
    )


def seconds(write: Callable[[], Any]) -> float:
    began = time.perf_counter()
    write()
    return time.perf_counter() - began


def one_round(many: int) -> dict[str, float]:
    """Return how long each way of writing took, each committed, on an injury that nobody wrote on."""
    from followup.models import MotionExam  # noqa: PLC0415
    from registry.services import records  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.builders import NOW  # noqa: PLC0415

    injury = builders.injury()
    by, few = injury.recorded_by, max(many // 20, 1)
    rows = [row_of(injury, number) for number in range(few)]
    took = {
        "recorded one by one": seconds(lambda: [records.create(r, by=by, now=NOW) for r in rows])
    }
    took["corrected one by one"] = seconds(
        lambda: [
            records.save(r, {"flexion_deg": 7}, by=by, now=NOW, expected_version=1) for r in rows
        ]
    )
    stamps = {"recorded_at": NOW, "changed_at": NOW, "recorded_by": by, "changed_by": by}
    bulk = [row_of(injury, number) for number in range(few, few + many)]
    for row in bulk:
        for name, value in stamps.items():
            setattr(row, name, value)
    took["inserted in bulk"] = seconds(lambda: MotionExam.objects.bulk_create(bulk))
    took["updated in bulk"] = seconds(
        lambda: MotionExam.objects.filter(injury=injury).update(flexion_deg=9)
    )
    return took


def main(many: int) -> None:
    """Make the database, take turns, and print the ratios."""
    import django  # noqa: PLC0415

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import connection  # noqa: PLC0415

    from registry.services import audit  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    best: dict[str, dict[bool, float]] = {}
    sealing = float("inf")
    for _ in range(ROUNDS):
        for trail in (True, False):
            with nullcontext() if trail else without_trail():
                took = one_round(many)
            began, entries = time.perf_counter(), audit.seal_all()
            if entries:
                sealing = min(sealing, (time.perf_counter() - began) / entries)
            for what, one in took.items():
                kept = best.setdefault(what, {})
                kept[trail] = min(one, kept.get(trail, one))
    print(f"{connection.vendor}, {many} rows, fastest of {ROUNDS}")
    for what, both in best.items():
        added = both[True] - both[False]
        print(
            f"  {what}: {both[False]:.3f} s without, the trail adds {added:.3f} s "
            f"({added / both[False]:.2f} of it)"
        )
    print(f"  sealed afterwards: {sealing * 1e6:.0f} microseconds an entry")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HOLDFAST_DATA_DIR"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        address = os.environ.get("HOLDFAST_DATABASE") or f"sqlite:///{folder}/trail.sqlite3"
        os.environ["HOLDFAST_DATABASE"] = address
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 5000)
