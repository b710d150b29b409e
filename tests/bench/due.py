"""How long the Due page takes at 1,000 and at 600,000 reviews: `python tests/bench/due.py`.

Makes a private PostgreSQL (tests/servers.py), writes one case by the services and copies it by INSERT
... SELECT. Every site has the same number of operations of the last year, whose reviews are due or
ahead; all others are over. The page is asked for as the coordinator of one site. Prints the times,
queries and ratios, what the large list reads, and the same with one site that has it all and where
a review of every operation is due. The sizes take turns, so that a machine that others use is as
busy for each, and the processor time of the page's process and of its database's is told beside the
time on the clock. One run, one machine: ratios say more than times.
"""

import os
import re
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

# Each size is looked at so many times in a turn, and has so many turns.
LOOKS, TURNS = 7, 3
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


@dataclass
class Page:
    """What the looks at one page took, in milliseconds; how many queries it asks and rows it has."""

    clock: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)
    queries: int = 0
    rows: int = 0

    def in_words(self) -> str:
        """Return the fastest and the median look, on the clock and of the processors."""
        both = {"clock": self.clock, "processor": self.processor}
        return ", ".join(
            f"{name} {min(some):.1f} ms (median {statistics.median(some):.1f})"
            for name, some in both.items()
        )


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
    review = operation.reviews.earliest("due_on")
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


def measure(looks: int) -> None:
    """Ask for each page; print of each look its milliseconds, and of the page its queries and rows."""
    from django.db import connection  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    from registry.models import Person  # noqa: PLC0415

    client = Client()
    client.force_login(Person.objects.get(username="bench"))
    for address in ADDRESSES:
        client.get(address)
        for _ in range(looks):
            print("LOOK", address, *look(client, address))
        with CaptureQueriesContext(connection) as queries:
            page = client.get(address).content.decode()
        counted = re.search(r"(\d+) (?:review|open task)", page)
        print("PAGE", address, len(queries), counted.group(1) if counted else "0")
        slow = max(queries, key=lambda one: float(one["time"]))
        print("SLOWEST", address, slow["time"], "s", slow["sql"][:60])


def look(client: Any, address: str) -> tuple[float, float]:
    """Ask for a page once; return its milliseconds on the clock and of the processors."""
    server, began, worked = served(), time.perf_counter(), time.process_time()
    answer = client.get(address)
    worked, took = time.process_time() - worked, time.perf_counter() - began
    assert answer.status_code == 200, address
    return took * 1000, (worked + served() - server) * 1000


def served() -> float:
    """Return the processor seconds of this connection's database process so far; Linux tells."""
    from django.db import connection  # noqa: PLC0415

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        told = Path(f"/proc/{cursor.fetchone()[0]}/schedstat").read_text()
    return int(told.split()[0]) / 1e9


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


def child(act: str, name: str) -> None:
    """Fill or measure the database that the settings name."""
    import django  # noqa: PLC0415

    django.setup()
    {
        "write": lambda: write(next(one for one in SIZES if one.name == name)),
        "measure": lambda: measure(LOOKS if name != "all_due" else 2),
        "explain": explain,
    }[act]()


def main() -> None:
    """Make a database of each size, then measure them by turns."""
    from tests import servers  # noqa: PLC0415

    with servers.postgresql() as address:
        for size in SIZES:
            make(address, size)
        turns = [size for _ in range(TURNS) for size in SIZES[:2]] + [SIZES[2]]
        found: dict[str, dict[str, Page]] = {size.name: {} for size in SIZES}
        for size in turns:
            print(size.name)
            read(run(address, "measure", size), found[size.name])
        for size in SIZES:
            run(address, "explain", size)
    show(found)


def make(address: str, size: Size) -> None:
    """Make and fill a database."""
    import psycopg  # noqa: PLC0415

    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {size.name}")
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"],
        cwd=ROOT,
        env=settings(address, size),
        check=True,
    )
    run(address, "write", size)


def settings(address: str, size: Size) -> dict[str, str]:
    """Return the environment that names the database of a size."""
    return {
        **os.environ,
        "HOLDFAST_DATABASE": urlunsplit(urlsplit(address)._replace(path=f"/{size.name}")),
        "HOLDFAST_HOSTS": "testserver",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


def run(address: str, act: str, size: Size) -> str:
    """Do one thing to a database in a process of its own; print and return what that said."""
    done = subprocess.run(
        [sys.executable, "tests/bench/due.py", act, size.name],
        cwd=ROOT,
        env=settings(address, size),
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    print("".join(line for line in done.stdout.splitlines(True) if "LOOK" not in line), flush=True)
    return done.stdout


def read(said: str, pages: "dict[str, Page]") -> None:
    """Add to the pages of a size what a turn said of them."""
    for kind, url, *told in (line.split() for line in said.splitlines()):
        page = pages.setdefault(url, Page()) if kind in ("LOOK", "PAGE") else Page()
        if kind == "LOOK":
            page.clock.append(float(told[0]))
            page.processor.append(float(told[1]))
        elif kind == "PAGE":
            page.queries, page.rows = int(told[0]), int(told[1])


def show(found: "dict[str, dict[str, Page]]") -> None:
    """Print the fastest and the median look of each page at each size, and the large over the small."""
    for url, small in found["small"].items():
        large = found["large"][url]
        print(url)
        for name, pages in found.items():
            page = pages[url]
            print(f"  {name}: {page.queries} queries, {page.rows} rows, {page.in_words()}")
        clock = min(large.clock) / min(small.clock)
        processor = min(large.processor) / min(small.processor)
        middle = statistics.median(large.processor) / statistics.median(small.processor)
        print(f"  fastest: {clock:.2f} times on the clock, {processor:.2f} of the processors")
        print(f"  median: {middle:.2f} times of the processors")


if __name__ == "__main__":
    child(*sys.argv[1:]) if len(sys.argv) > 1 else main()
