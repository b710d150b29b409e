"""Asks who carries an implant, among 10,000 and among 1,000,000 parts, on a private PostgreSQL.

    python tests/bench/trace.py

writes the parts by SQL: 5 to an operation, at 20 sites, of 2,000 models; a batch is of one model and
has 50 parts, and of every 40 parts one has no batch, one a batch that ran into its serial, one its
batch in small letters. It asks as the page does (the selectors of counts, list and lines) by device
identifier and batch, a range of batches, a serial, a catalogue number, words of the model, and within a site
and some days; it prints the milliseconds of each, and of which indexes the database made use.
"""

import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

LOOKS = 15
SIZES = {"small": 10_000, "large": 1_000_000}
PARTS, SITES, MODELS, OF_BATCH = 5, 20, 2_000, 50
FAR = 10_000_000


def copied(table: str, columns: dict[str, str], source: str) -> str:
    """Return SQL that copies the one row of a table for each n, with some columns of their own."""
    from django.apps import apps  # noqa: PLC0415 - after the settings are known

    model = next(one for one in apps.get_models() if one._meta.db_table == table)
    names = [one.column for one in model._meta.concrete_fields if not one.generated]
    values = ", ".join(columns.get(name, f't."{name}"') for name in names)
    listed = ", ".join(f'"{name}"' for name in names)
    return (
        f"INSERT INTO {table} ({listed}) SELECT {values} "
        f"FROM (SELECT * FROM {table} ORDER BY id LIMIT 1) t, {source}"
    )


def statements(parts: int, sites: list[int]) -> list[str]:
    """Return the SQL that writes so many parts, each operation and patient with five of them."""
    cases = parts // PARTS
    site = f"(ARRAY{sites})[1 + n % {SITES}]"
    key = f"({FAR} + n)"
    own = {"id": key, "site_id": site}
    case = f"({FAR} + n / {PARTS})"
    batch_number = f"(n / {OF_BATCH})"
    batch = f"'LOT' || lpad(({batch_number})::text, 6, '0')"
    typed = (
        f"CASE n % 40 WHEN 0 THEN '' WHEN 1 THEN {batch} || '21SN' || n "
        f"WHEN 2 THEN lower({batch}) ELSE {batch} END"
    )
    model = f"({FAR} + {batch_number} % {MODELS})"
    cases_of = f"generate_series(0, {cases - 1}) n"
    return [
        copied("registry_patient", {**own, "key": "'B' || n"}, cases_of),
        copied("registry_identity", {"id": key, "patient_id": key}, cases_of),
        copied("registry_patientsite", {**own, "patient_id": key}, cases_of),
        copied("registry_injury", {**own, "patient_id": key}, cases_of),
        copied("registry_procedure", {**own, "injury_id": key}, cases_of),
        copied("registry_construct", {**own, "procedure_id": key}, cases_of),
        # One of eight was taken out again, one of twenty revised.
        copied(
            "registry_procedure",
            {
                **own,
                "id": f"({FAR} * 2 + n)",
                "injury_id": key,
                "kind": "CASE WHEN n % 8 = 0 THEN 'implant_removal' ELSE 'revision_fixation' END",
                "revises_id": key,
            },
            f"{cases_of} WHERE n % 8 = 0 OR n % 20 = 1",
        ),
        copied(
            "registry_implantmodel",
            {
                "id": key,
                "device_identifier": "'0950600' || lpad(n::text, 7, '0')",
                "catalogue_number": "'P-' || n",
                "description": "'plate, ' || n",
            },
            f"generate_series(0, {MODELS - 1}) n",
        ),
        copied(
            "registry_part",
            {
                "id": key,
                "site_id": f"(ARRAY{sites})[1 + (n / {PARTS}) % {SITES}]",
                "construct_id": case,
                "implant_model_id": model,
                "batch": typed,
                "serial": "'SN' || n",
            },
            f"generate_series(0, {parts - 1}) n",
        ),
    ]


def write(name: str) -> None:
    """Fill an empty database."""
    from django.db import connection, transaction  # noqa: PLC0415

    from tests import builders, implanted  # noqa: PLC0415

    began = time.monotonic()
    keys = [builders.site("north").pk] + [builders.site(f"s{n}").pk for n in range(1, SITES)]
    everywhere = dict.fromkeys(["north", *(f"s{n}" for n in range(1, SITES))], "coordinator")
    builders.person("bench", **everywhere)
    implanted.part(batch="another", device_identifier="", description="unlike the others")
    with transaction.atomic(), connection.cursor() as cursor:
        # The trail of rows that nobody wrote is of no interest, and the keys are right by making.
        cursor.execute("SET LOCAL session_replication_role = replica")
        for statement in statements(SIZES[name], keys):
            cursor.execute(statement)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
        cursor.execute("SELECT count(*) FROM registry_part")
        print(f"{name}: {cursor.fetchone()[0]} parts in {time.monotonic() - began:.0f} s")
        cursor.execute("SELECT pg_size_pretty(pg_total_relation_size('registry_part'))")
        print(f"{name}: table of parts with its indexes {cursor.fetchone()[0]}")


def questions() -> dict[str, Any]:
    """Return what is asked, by its name."""
    from registry.models import Site  # noqa: PLC0415
    from registry.rules import batches  # noqa: PLC0415
    from registry.rules.notice_matching import Scope  # noqa: PLC0415
    from registry.selectors.trace import Question  # noqa: PLC0415

    device = "09506000000100"
    here = (Site.objects.get(code="s7").pk,)
    return {
        "device identifier and batch": Question(Scope(device, batch=batches.span("lot 000100"))),
        "batch": Question(Scope(batch=batches.span("LOT000100"))),
        "device identifier and batch range": Question(
            Scope(device, batch=batches.span("LOT000100", "LOT004100"))
        ),
        "batch range": Question(Scope(batch=batches.span("LOT000100", "LOT000104"))),
        "serial": Question(Scope(serial=batches.span("sn 5004"))),
        "serial range": Question(Scope(serial=batches.span("SN5000", "SN5099"))),
        "catalogue number": Question(Scope(catalogue_number="P 100")),
        "words of the model": Question(words="plate 1999"),
        "device identifier at a site": Question(Scope(device), sites=here),
        "device identifier and days": Question(
            Scope(device), operated_from=date(2026, 1, 1), operated_to=date(2026, 12, 31)
        ),
    }


def measure() -> None:
    """Ask each question as the page does, and print the milliseconds."""
    from django.db import connection  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

    from registry.models import Person  # noqa: PLC0415

    user = Person.objects.get(username="bench")
    for name, question in questions().items():
        answer(user, question)
        looks = [look(lambda question=question: answer(user, question)) for _ in range(LOOKS)]
        clock, worked = zip(*looks, strict=True)
        with CaptureQueriesContext(connection) as queries:
            numbers = answer(user, question)
        print(f"LOOK {name}: {numbers}; {len(queries)} queries")
        for what, took in (("on the clock", clock), ("of the processors", worked)):
            print(f"  {what}: fastest {min(took):.1f} ms, median {statistics.median(took):.1f} ms")


def look(act: Callable[[], Any]) -> tuple[float, float]:
    """Return how many milliseconds something takes, on the clock and of both processes' work."""
    server, began, worked = served(), time.perf_counter(), time.process_time()
    act()
    worked, took = time.process_time() - worked, time.perf_counter() - began
    return took * 1000, (worked + served() - server) * 1000


def served() -> float:
    """Return the processor seconds of this connection's database process so far; Linux tells."""
    from django.db import connection  # noqa: PLC0415

    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_backend_pid()")
        told = Path(f"/proc/{cursor.fetchone()[0]}/schedstat").read_text()
    return int(told.split()[0]) / 1e9


def answer(user: Any, question: Any) -> str:
    """Do what the page does: counts of all three lists, one page of the first, and its lines."""
    from followup.selectors import trace as lines  # noqa: PLC0415
    from registry.rules.notice_matching import Certainty  # noqa: PLC0415
    from registry.selectors import trace as selector  # noqa: PLC0415

    found = selector.answers(user, question)
    certain = found[Certainty.CERTAIN]
    total = sum(line.total for line in selector.counts(certain))
    others = [found[one].count() for one in (Certainty.NEAR, Certainty.NOT_EXCLUDED)]
    page = lines.lines_of(user, list(selector.in_detail(certain)[:50]))
    return f"{total} certain, {others[0]} near, {others[1]} not excluded, {len(page)} on the page"


def explain() -> None:
    """Print which indexes of parts and models each question's lists make use of."""
    from registry.models import Person  # noqa: PLC0415
    from registry.rules.notice_matching import Certainty  # noqa: PLC0415
    from registry.selectors import trace as selector  # noqa: PLC0415

    user = Person.objects.get(username="bench")
    for name, question in questions().items():
        for certainty in Certainty:
            rows = selector.parts_of(user, question, certainty)
            if certainty is Certainty.CERTAIN:
                rows = selector.in_detail(rows)[:50]
            told = rows.explain(analyze=True)
            used = sorted(set(re.findall(r"registry_part_[a-z_0-9]+|Seq Scan on [a-z_]+", told)))
            print(f"PLAN {name}, {certainty}: {', '.join(used) or 'nothing to read'}")


def child(act: str, name: str) -> None:
    """Fill or measure the database that the settings name."""
    import django  # noqa: PLC0415

    django.setup()
    {"write": lambda: write(name), "measure": measure, "explain": explain}[act]()


def main() -> None:
    """Make a database of each size, then ask both."""
    import psycopg  # noqa: PLC0415

    from tests import servers  # noqa: PLC0415

    with servers.postgresql() as address:
        for name in SIZES:
            with psycopg.connect(address, autocommit=True) as connection:
                connection.execute(f"CREATE DATABASE {name}")
            given = settings(address, name)
            migrate = [sys.executable, "manage.py", "migrate", "-v0"]
            subprocess.run(migrate, cwd=ROOT, env=given, check=True)
            for act in ("write", "measure", "explain"):
                print(f"--- {name}: {act}", flush=True)
                command = [sys.executable, "tests/bench/trace.py", act, name]
                subprocess.run(command, cwd=ROOT, env=given, check=True)


def settings(address: str, name: str) -> dict[str, str]:
    """Return the environment that names the database of a size."""
    return {
        **os.environ,
        "HOLDFAST_DATABASE": urlunsplit(urlsplit(address)._replace(path=f"/{name}")),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }


if __name__ == "__main__":
    child(*sys.argv[1:]) if len(sys.argv) > 1 else main()
