"""How long the pages take, and how many queries: `python tests/bench/pages.py 240 5000`.

Makes an invented service of each size in a database of its own and prints, for each page, its
median time and its queries at each size, with the ratio of the times. One run, one machine: the
ratios say more than the times.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5
PAGES = (
    ("coordinator", "/due/"),
    ("coordinator", "/due/?show=late"),
    ("coordinator", "/patients/"),
    ("coordinator", "/duplicates/"),
    ("surgeon", "/clinic/"),
    ("surgeon", "/hardware/"),
    ("reader", "/films/"),
    ("quality", "/outcomes/"),
    ("quality", "/harms/"),
    ("administrator", "/setup/people/"),
)
MEASURE = """
import statistics, sys, time
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from registry.models import Person
clients = {}
for who, url in PAGES:
    if who not in clients:
        clients[who] = Client()
        clients[who].force_login(Person.objects.get(username=who))
    clients[who].get(url)
    times = []
    for _ in range(RUNS):
        with CaptureQueriesContext(connection) as queries:
            began = time.perf_counter()
            answer = clients[who].get(url)
            times.append(time.perf_counter() - began)
    assert answer.status_code == 200, (url, answer.status_code)
    print("MEASURED", url, round(statistics.median(times) * 1000, 1), len(queries))
"""


def manage(folder: str, *words: str) -> str:
    """Run a command of the service on a database in a folder; return what it said."""
    done = subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**os.environ, "HOLDFAST_DATA_DIR": folder, "HOLDFAST_HOSTS": "testserver"},
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return done.stdout


def measured(procedures: int, folder: str) -> dict[str, tuple[float, int]]:
    """Return the milliseconds and queries of each page, on a service that is made if it is not there."""
    if not (Path(folder) / "holdfast.sqlite3").exists():
        manage(folder, "migrate", "-v0")
        manage(folder, "load_defaults")
        sites = max(2, procedures // 5000)
        manage(folder, "make_cohort", f"--procedures={procedures}", f"--sites={sites}")
    manage(folder, "refresh_snapshot")
    said = manage(folder, "shell", "-v0", "-c", f"PAGES, RUNS = {PAGES}, {RUNS}\n{MEASURE}")
    lines = [line.split() for line in said.splitlines() if line.startswith("MEASURED")]
    return {url: (float(ms), int(queries)) for _, url, ms, queries in lines}


def main(sizes: list[str]) -> None:
    """Measure each size; 'SIZE=FOLDER' measures the service whose data lie in a folder."""
    found = {}
    for size in sizes:
        number, _, kept = size.partition("=")
        with tempfile.TemporaryDirectory(prefix="holdfast-bench-") as folder:
            began = time.monotonic()
            found[number] = measured(int(number), kept or folder)
            print(f"{number}: {time.monotonic() - began:.0f} s")
    first, last = next(iter(found)), next(reversed(found))
    print("page", *(f"{number} ms, queries" for number in found), "ratio", sep=" | ")
    for url, (ms, _) in found[first].items():
        cells = [f"{found[number][url][0]} {found[number][url][1]}" for number in found]
        print(url, *cells, f"{found[last][url][0] / ms:.2f}", sep=" | ")
    ratios = [found[last][url][0] / ms for url, (ms, _) in found[first].items()]
    print(f"median ratio {statistics.median(ratios):.2f}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["240", "5000"])
