"""What the outcomes page costs on a large service: `python tests/bench/outcomes.py 100000`.

Starts a PostgreSQL of its own (or uses HOLDFAST_TEST_DATABASE), makes an invented service of at most
20,000 index procedures with `make_cohort`, copies its patients by INSERT ... SELECT until there are
as many as asked for, makes a snapshot, and looks at the page as a quality lead of every site: first in
a fresh process that has loaded its pages, then again, with filters. Prints the seconds of each look,
and what making the snapshot takes beside one plain SELECT of the same rows. A database that is there
is used again.
One run, one machine: ratios say more than times.
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests import servers
from tests.bench import nightly

ROOT = Path(__file__).resolve().parents[2]
BASE = 20_000
LOOKS = (
    "/outcomes/",
    "/outcomes/?horizon=3m",
    "/outcomes/?horizon=24m&by=neer",
    "/outcomes/?kind=lateral_clavicle&from=2022-01-01&to=2024-12-31",
    "/outcomes/?definition=doubled",
    "/outcomes/?endpoint=union&horizon=6m",
)
# In this order, so that what a row points to is copied before it.
COPIED = (
    *("registry_patient", "registry_patientsite", "registry_consent", "registry_injury"),
    *("registry_classification", "registry_procedure", "registry_construct"),
    *("followup_film", "followup_reading", "followup_motionexam", "followup_score"),
    *("followup_review", "followup_complication", "followup_hardwaredecision"),
)


def grow(address: str, size: int) -> None:
    """Copy patients with all that hangs on them until there are so many index procedures."""
    with psycopg.connect(address, autocommit=True) as link:
        # Copies are not written by anybody: neither the trail nor other triggers see them.
        link.execute("SET session_replication_role = replica")
        here = _count(link)
        step = _one(link, "SELECT max(id) + 1 FROM followup_score") + 1_000_000
        base, turn = here, 1
        while here < size:
            _copy(link, turn * step, step, min(1.0, (size - here) / base))
            here, turn = _count(link), turn + 1
        link.execute("ANALYZE")


def _copy(link: Any, shift: int, first_copied: int, share: float) -> None:
    """Copy the rows that were there at first under keys shifted by a number."""
    ours = (
        "SELECT injury_id FROM registry_procedure WHERE kind = 'fixation' AND "
        f"voided_at IS NULL AND id < {first_copied}"
    )
    limit = _one(
        link,
        f"SELECT coalesce(percentile_disc({share}) WITHIN GROUP (ORDER BY patient_id), 0) "
        f"FROM registry_injury WHERE id IN ({ours})",
    )
    for table in COPIED:
        keys = dict(_foreign_keys(link, table))
        columns = [row[0] for row in link.execute(COLUMNS, [table]).fetchall()]
        values = [_value(name, table, keys, shift) for name in columns]
        parents = [name for name, to in keys.items() if to in COPIED and to != table]
        wanted = [f"t.id < {first_copied}"]
        wanted += [
            f"(t.{name} IS NULL OR EXISTS (SELECT 1 FROM {keys[name]} p WHERE p.id = t.{name} + {shift}))"
            for name in parents
        ]
        if table == "registry_patient":
            wanted.append(f"t.id <= {limit}")
        listed = ", ".join(f'"{name}"' for name in columns)
        link.execute(
            f"INSERT INTO {table} ({listed}) SELECT {', '.join(values)} FROM {table} t "
            f"WHERE {' AND '.join(wanted)}"
        )
        link.execute(f"ANALYZE {table}")


COLUMNS = "SELECT column_name FROM information_schema.columns WHERE table_name = %s"
FOREIGN_KEYS = """
SELECT a.attname, c.confrelid::regclass::text FROM pg_constraint c
JOIN pg_attribute a ON a.attrelid = c.conrelid AND a.attnum = c.conkey[1]
WHERE c.contype = 'f' AND c.conrelid = %s::regclass
"""


def _foreign_keys(link: Any, table: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = link.execute(FOREIGN_KEYS, [table]).fetchall()
    return found


def _value(name: str, table: str, keys: dict[str, str], shift: int) -> str:
    if name == "id" or keys.get(name) in COPIED:
        return f't."{name}" + {shift}'
    if (table, name) == ("registry_patient", "key"):
        return f"left(t.key, 4) || lpad(to_hex(t.id + {shift}), 8, '0')"
    return f't."{name}"'


def _count(link: Any) -> int:
    return _one(
        link,
        "SELECT count(*) FROM registry_procedure WHERE kind = 'fixation' AND voided_at IS NULL",
    )


def _one(link: Any, query: str) -> int:
    return int(link.execute(query).fetchone()[0])


def made(server: str, size: int) -> str:
    """Return the address of a database with a service of a size, made where it is not there."""
    name = f"outcomes_{size}"
    address = f"{server.rpartition('/')[0]}/{name}"
    with psycopg.connect(server, autocommit=True) as link:
        found = "SELECT 1 FROM pg_database WHERE datname = %s"
        if link.execute(found, [name]).fetchone():
            return address
        first = nightly.made(server, min(size, BASE)).rpartition("/")[2]
        link.execute(f"CREATE DATABASE {name} TEMPLATE {first}")
    grow(address, size)
    return address


@contextmanager
def timed(label: str) -> Iterator[dict[str, float]]:
    """Print how long a block took, and how much of that was work; hand the numbers out."""
    found: dict[str, float] = {}
    began, worked = time.perf_counter(), time.process_time()
    yield found
    found["s"] = time.perf_counter() - began
    found["cpu"] = time.process_time() - worked
    print(f"{label} | {found['s']:.3f} s | {found['cpu']:.3f} CPU s", flush=True)


def child() -> None:
    """Measure the database that the settings name."""
    # As a web process does before it serves; after the settings are known.
    import config.wsgi  # noqa: F401, PLC0415

    if "fresh" in sys.argv:
        _snapshot()
    _pages()


def _snapshot() -> None:
    from django.utils import timezone  # noqa: PLC0415

    from analytics.services import snapshots  # noqa: PLC0415

    with timed("raw SELECT of the same rows") as raw:
        rows = _raw()
    print(f"rows | {rows}")
    with timed("making the snapshot") as making:
        made = snapshots.refresh(now=timezone.now(), today=timezone.localdate())
    with timed("storing the verdicts beside it"):
        snapshots.add_verdicts(made)
    made.row_counts.pop("opted_out")
    print(f"snapshot | {made.row_counts}")
    print(f"ratio | {making['s'] / raw['s']:.2f} | {making['cpu'] / raw['cpu']:.2f} of CPU")


def _raw() -> int:
    """Fetch by plain SELECT the rows that the frames are made from, all their columns."""
    from django.db import connection  # noqa: PLC0415

    number = 0
    with connection.cursor() as cursor:
        for table in COPIED:
            if table in ("registry_patientsite", "registry_consent"):
                continue
            cursor.execute(f"SELECT * FROM {table} WHERE voided_at IS NULL")
            number += len(cursor.fetchall())
    return number


def _pages() -> None:
    from django.test import Client  # noqa: PLC0415

    client = Client()
    client.force_login(_lead())
    for lap in ("first look", "next look", "next look"):
        for address in LOOKS:
            with timed(f"{lap} | {address}"):
                answer = client.get(address)
            assert answer.status_code == 200, answer.content[:500]


def _lead() -> Any:
    from django.utils import timezone  # noqa: PLC0415

    from registry.models import Membership, Person, Site  # noqa: PLC0415

    person, _ = Person.objects.get_or_create(username="bench-lead")
    for site in Site.objects.all():
        Membership.objects.get_or_create(
            person=person,
            site=site,
            role="quality_lead",
            defaults={"starts_on": timezone.localdate()},
        )
    return person


def main(sizes: list[str]) -> int:
    """Measure each size in a process of its own."""
    with servers.postgresql() as server:
        for size in sizes:
            address = made(server, int(size))
            settings = {
                **os.environ,
                "HOLDFAST_DATABASE": address,
                "HOLDFAST_HOSTS": "testserver",
                "DJANGO_SETTINGS_MODULE": "config.settings",
            }
            words = [sys.executable, "tests/bench/outcomes.py", "measure", "fresh"]
            subprocess.run(words, cwd=ROOT, env=settings, check=True)
    return 0


RUN: dict[bool, Callable[[], Any]] = {True: child, False: lambda: main(sys.argv[1:] or ["2000"])}

if __name__ == "__main__":
    raise SystemExit(RUN["measure" in sys.argv]())
