"""How long the Due page takes at 1,000 and at 600,000 reviews: `python tests/bench/due.py`.

Makes a private PostgreSQL (tests/servers.py), writes one case by the services and copies it by INSERT
... SELECT. Every site has the same number of operations of the last year, whose reviews are due or
ahead; all others are over. The page is asked for as the coordinator of one site. Prints the median
times, queries and ratios, what the large list reads, and the same with one site that has it all and
where a review of every operation is due. One run, one machine: ratios say more than times.
"""

import os
import re
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

RUNS = 21
RECENT = 110
# Due so many days after the operation, open so many before, closed so many after; six to a case.
STEPS = ((5, 5, 7), (14, 4, 7), (42, 14, 14), (91, 21, 21), (182, 30, 60), (365, 60, 90))
ADDRESSES = (
    "/due/?show=all",
    "/due/?show=all&page=2",
    "/due/?show=late",
    "/due/?show=unbooked",
    "/tasks/",
)
FAR = 1_000_000


@dataclass(frozen=True)
class Size:
    """How many operations at how many sites; `recent` of each site's lie in the last year."""

    name: str
    operations: int
    sites: int
    recent: int


SIZES = (
    Size("small", 167, 1, RECENT),
    Size("large", 100_000, 20, RECENT),
    Size("all_due", 100_000, 1, 100_000),
)


def copied(table: str, columns: dict[str, str], more: str = "") -> str:
    """Return SQL that copies the one row of a table for each n, with some columns of their own."""
    from django.db import connection  # noqa: PLC0415 - after the settings are known

    with connection.cursor() as cursor:
        names = [one.name for one in connection.introspection.get_table_description(cursor, table)]
    values = ", ".join(columns.get(name, f't."{name}"') for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    return (
        f"INSERT INTO {table} ({listed}) SELECT {values} "
        f"FROM (SELECT * FROM {table} ORDER BY id LIMIT 1) t, ns {more}"
    )


def template(sites: int) -> dict[str, Any]:
    """Save one case, the sites and their coordinator by the services; return their keys."""
    from followup.services import contacts  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415

    builders.load_defaults()
    builders.person("bench", north="coordinator")
    operation = builders.procedure(of=builders.injury(of=builders.patient(phone="0555 010 1")))
    hook = builders.construct_type("HP")
    review = operation.reviews.order_by("due_on").first()
    contacts.record_attempt(
        review=review,
        means="phone",
        outcome="no_answer",
        note="",
        by=operation.recorded_by,
        now=builders.NOW,
    )
    from followup.models import Film  # noqa: PLC0415
    from registry.services import records  # noqa: PLC0415

    film = Film(
        injury=operation.injury, site=operation.site, taken_on=operation.performed_on, view="zanca"
    )
    records.create(film, by=operation.recorded_by, now=builders.NOW)
    keys = [builders.site("north").pk] + [builders.site(f"s{n}").pk for n in range(1, sites)]
    steps = list(operation.reviews.order_by("due_on").values_list("step_id", flat=True))
    return {"hook": hook.pk, "sites": keys, "steps": steps[: len(STEPS)]}


def statements(size: Size, made: dict[str, Any]) -> list[str]:
    """Return the SQL that copies the case; row n of each table belongs to case n."""
    site = f"(ARRAY{made['sites']})[1 + n % {size.sites}]"
    # Of each site the first `recent` operations lie in the last year, the others long before.
    nth = f"(n / {size.sites})"
    day = (
        f"(CURRENT_DATE - CASE WHEN {nth} < {size.recent} THEN ({nth} * 373) % 365 "
        f"ELSE 460 + ({nth} * 373) % 3000 END::int)"
    )
    if size.name == "all_due":
        day = "(CURRENT_DATE - 182 - n % 40)"
    key = f"({FAR} + n)"
    own = {"id": key, "site_id": site}
    hook = f"CASE WHEN n % 20 = 0 THEN {made['hook']} ELSE t.construct_type_id END"
    numbers = f"generate_series(0, {size.operations - 1}) n"
    found = [
        f"CREATE TEMP TABLE ns AS SELECT n, {day} AS operated FROM {numbers}",
        copied("registry_patient", {**own, "key": "'B' || n"}),
        copied("registry_identity", {"id": key, "patient_id": key, "family_name": "'Bench' || n"}),
        copied("registry_patientsite", {**own, "patient_id": key}),
        copied("registry_injury", {**own, "patient_id": key}),
        copied("registry_procedure", {**own, "injury_id": key, "performed_on": "operated"}),
        copied("registry_construct", {**own, "procedure_id": key, "construct_type_id": hook}),
        copied("followup_film", {**own, "injury_id": key, "taken_on": "operated + 42"}),
    ]
    for place, (due, before, after) in enumerate(STEPS):
        found.append(_reviews(made["steps"][place], place, own, due, before, after))
    review = f"({FAR} + n * {len(STEPS)} + 2)"
    tried = {**own, "patient_id": key, "review_id": review, "tried_at": "operated + 40"}
    found.append(copied("followup_contactattempt", tried))
    return found


def _reviews(step: int, place: int, own: dict[str, str], due: int, before: int, after: int) -> str:
    over = f"operated + {due + after} < CURRENT_DATE"
    came = f"{over} AND n % 9 > 0"
    return copied(
        "followup_review",
        {
            **own,
            "id": f"({FAR} + n * {len(STEPS)} + {place})",
            "procedure_id": own["id"],
            "step_id": str(step),
            "opens_on": f"operated + {max(0, due - before)}",
            "due_on": f"operated + {due}",
            "proposed_on": f"operated + {due}",
            "closes_on": f"operated + {due + after}",
            "state": f"CASE WHEN {came} THEN 'attended' WHEN {over} THEN 'lapsed' ELSE 'planned' END",
            "attended_on": f"CASE WHEN {came} THEN operated + {due} END",
            "complete": came,
        },
    )


def write(size: Size) -> None:
    """Fill an empty database."""
    from django.db import connection, transaction  # noqa: PLC0415

    began = time.monotonic()
    made = template(size.sites)
    with transaction.atomic(), connection.cursor() as cursor:
        # The trail of rows that nobody wrote is of no interest, and the keys are right by making.
        cursor.execute("SET LOCAL session_replication_role = replica")
        for statement in statements(size, made):
            cursor.execute(statement)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
        cursor.execute("SELECT count(*) FROM followup_review")
        number = cursor.fetchone()[0]
    print(f"{size.name}: {number} reviews written in {time.monotonic() - began:.0f} s")


def measure(size: Size) -> None:
    """Ask for each page; print its median time in milliseconds, its queries and rows."""
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    from registry.models import Person  # noqa: PLC0415

    client = Client()
    client.force_login(Person.objects.get(username="bench"))
    for address in ADDRESSES:
        client.get(address)
        times = []
        for _ in range(RUNS if size.name != "all_due" else RUNS // 4):
            began = time.perf_counter()
            answer = client.get(address)
            times.append((time.perf_counter() - began) * 1000)
        assert answer.status_code == 200, address
        with CaptureQueriesContext(connection) as queries:
            page = client.get(address).content.decode()
        counted = re.search(r"(\d+) (?:review|open task)", page)
        rows = counted.group(1) if counted else "0"
        print("MEASURED", address, round(statistics.median(times), 1), len(queries), rows)
        print("FASTEST", address, round(min(times), 1))
        slow = max(queries, key=lambda one: float(one["time"]))
        print("SLOWEST", address, slow["time"], "s", slow["sql"][:60])
    explain()


def explain() -> None:
    """Print the steps of the plan of the list's query that read tables."""
    from django.utils import timezone  # noqa: PLC0415

    from followup.selectors.due import DueFilter, due_list, with_details  # noqa: PLC0415
    from registry.models import Person  # noqa: PLC0415

    user = Person.objects.get(username="bench")
    rows = with_details(due_list(user, timezone.localdate(), DueFilter()).rows)[:50]
    for line in rows.explain(analyze=True).splitlines():
        if "Scan" in line or "Time" in line:
            print("PLAN", line.strip()[:150])


def child(name: str) -> None:
    """Fill and measure the database that the settings name."""
    import django  # noqa: PLC0415

    django.setup()
    size = next(one for one in SIZES if one.name == name)
    write(size)
    measure(size)


def main() -> None:
    """Measure each size in a database of its own."""
    from tests import servers  # noqa: PLC0415

    found: dict[str, dict[str, tuple[float, int, int]]] = {}
    with servers.postgresql() as address:
        for size in SIZES:
            said = run(address, size)
            print(said)
            lines = [line.split() for line in said.splitlines() if line.startswith("MEASURED")]
            found[size.name] = {
                url: (float(ms), int(queries), int(rows)) for _, url, ms, queries, rows in lines
            }
    print("page | small ms, queries, rows | large ms, queries, rows | ratio | all due ms, rows")
    for url, (ms, queries, rows) in found["small"].items():
        large, every = found["large"][url], found["all_due"][url]
        print(
            f"{url} | {ms} {queries} {rows} | {large[0]} {large[1]} {large[2]} | "
            f"{large[0] / ms:.2f} | {every[0]} {every[2]}"
        )


def run(address: str, size: Size) -> str:
    """Make a database, fill and measure it in a process of its own; return what that said."""
    import psycopg  # noqa: PLC0415

    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {size.name}")
    parts = urlsplit(address)
    named = urlunsplit(parts._replace(path=f"/{size.name}"))
    settings = {
        **os.environ,
        "HOLDFAST_DATABASE": named,
        "HOLDFAST_HOSTS": "testserver",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=settings, check=True
    )
    done = subprocess.run(
        [sys.executable, "tests/bench/due.py", size.name],
        cwd=ROOT,
        env=settings,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return done.stdout


if __name__ == "__main__":
    child(sys.argv[1]) if len(sys.argv) > 1 else main()
