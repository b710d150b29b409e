"""What a night costs: `python tests/bench/nightly.py 1000 80000`.

Starts a PostgreSQL of its own (or uses HOLDFAST_TEST_DATABASE), makes an invented service with so many
index procedures in a database of that name, and runs the nightly jobs, each in a process of its own:
as they stand, a second time, and as after a month in which nothing ran. Prints for each its seconds,
the microseconds for each review, what it counted, and the most memory that it held. A database
that is there already is used again. Ends with 1 where a job held more than 400 MB. One run, one machine: compare sizes, not machines.
"""

import os
import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import psycopg

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests import servers

ROOT = Path(__file__).resolve().parents[2]
JOBS = (
    "followup.tasks.planning.sweep",
    "followup.tasks.messages.remind",
    "followup.tasks.hardware.prompt",
    "followup.tasks.contacts.decide",
    "followup.tasks.sums.count",
    "followup.tasks.questionnaires.invite",
)
# What a night may hold, whatever the size of the service.
MOST_MB = 400
LAPS = (("first", 0), ("again", 0), ("30 days on", 30), ("again", 30))
# Every site asks at home: without that there is nobody to invite.
ASK = """
from django.utils import timezone
from followup.models import QuestionnaireSetup
from followup.services import questionnaires
from registry.models import Site
from registry.services.background import background_person
NAMES = ("invites", "telephone", "expiry_days", "reminder_days")
by, now = background_person(), timezone.now()
for site in Site.objects.filter(questionnaire_setup=None):
    questionnaires.save_advice(
        site=site, language="en", text="Ring us.", expected_latest=0, by=by, now=now
    )
    row = QuestionnaireSetup(site=site, invites=True, telephone="0000 555 0100")
    values = {name: getattr(row, name) for name in NAMES}
    questionnaires.save_setup(row=row, values=values, expected_version=1, by=by)
"""
RUN = """
import resource, time
from datetime import timedelta
from celery import current_app
from django.utils import timezone
from followup.models import Review
from registry.models import Procedure
from registry.services import jobs
current_app.loader.import_default_modules()
task = current_app.tasks[TASK]
now = timezone.now() + timedelta(days=DAYS)
began, worked = time.perf_counter(), time.process_time()
run = jobs.run_job(task.run.job_name, lambda: task.run.work(now, now.date()), now=now)
wall, cpu = time.perf_counter() - began, time.process_time() - worked
held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
assert run.outcome == "good", run.fault
counted = ", ".join(f"{number} {what}" for what, number in run.counts.items())
print("MEASURED", wall, cpu, held, Procedure.objects.count(), Review.objects.count(), counted)
"""


def manage(address: str, *words: str) -> str:
    """Run a command of the service on a database; return what it said."""
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**os.environ, "HOLDFAST_DATABASE": address},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return done.stdout


def made(server: str, size: int) -> str:
    """Return the address of a database with an invented service of a size, made if it is not there."""
    name = f"cohort_{size}"
    address = f"{server.rpartition('/')[0]}/{name}"
    with psycopg.connect(server, autocommit=True) as link:
        found = "SELECT 1 FROM pg_database WHERE datname = %s"
        if link.execute(found, [name]).fetchone():
            return address
        link.execute(f"CREATE DATABASE {name}")
    manage(address, "migrate", "-v0")
    manage(address, "load_defaults")
    began, sealing = time.monotonic(), threading.Event()
    beside = threading.Thread(target=_seal, args=(address, sealing))
    beside.start()
    sites = max(2, size // 4000)
    sized = (f"--procedures={size}", f"--sites={sites}", "--rows-only")
    try:
        manage(address, "make_cohort", *sized)
    finally:
        rows = time.monotonic() - began
        sealing.set()
        beside.join()
    manage(address, "seal_trail")
    whole = time.monotonic() - began
    print(f"{size} index procedures: rows in {rows:.0f} s, sealed in {whole:.0f} s")
    return address


def _seal(address: str, enough: threading.Event) -> None:
    while not enough.wait(5):
        manage(address, "seal_trail")


def measured(address: str, size: str) -> list[str]:
    """Run every job in every lap, and print a line for each; return what held too much."""
    too_much = []
    manage(address, "shell", "-v0", "-c", ASK)
    for lap, days in LAPS:
        for task in JOBS:
            words = f"TASK, DAYS = {task!r}, {days}\n{RUN}"
            said = manage(address, "shell", "-v0", "-c", words)
            found = re.search(r"MEASURED (\S+) (\S+) (\S+) (\d+) (\d+) (.*)", said)
            assert found is not None, said
            wall, cpu, held = (float(found[number]) for number in (1, 2, 3))
            each = wall / max(1, int(found[5])) * 1e6
            cells = (size, found[4], found[5], lap, task.split(".", 2)[2])
            numbers = (f"{wall:.2f}", f"{cpu:.2f}", f"{each:.1f}", f"{held:.0f}", found[6])
            print(*cells, *numbers, sep=" | ", flush=True)
            if held > MOST_MB:
                too_much.append(f"{cells[4]}, {lap}, {size} index procedures: {held:.0f} MB")
    return too_much


def main(sizes: list[str]) -> int:
    """Measure each size; return 1 where a job held too much memory, and say which."""
    too_much: list[str] = []
    titles = ("index", "procedures", "reviews", "lap", "job", "s", "CPU s", "us a review", "MB")
    with servers.postgresql() as server:
        addresses = {size: made(server, int(size)) for size in sizes}
        print(*titles, "counted", sep=" | ")
        for size, address in addresses.items():
            too_much += measured(address, size)
    for line in too_much:
        print(f"over {MOST_MB} MB: {line}", file=sys.stderr)
    return 1 if too_much else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:] or ["1000"]))
