"""How long a long file of cases takes to be read, checked and landed, and in how much memory.

    python tests/bench/imports.py [rows] [csv|xlsx] [check]

Makes a department's own list of so many rows (names of its own, days first, decimal commas; three visits
each), and takes it through the path of the worker: looked through, checked, landed in parts, settled.
Prints seconds by the clock and of the processor, and the peak of memory after each step; with 'check' it
stops before landing. A database of its own in a temporary folder; HOLDFAST_DATABASE names another.
"""

import csv
import os
import random
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
HEADER = [
    "Pat.-Nr.",
    "Name",
    "Vorname",
    "Geb.-Datum",
    "Diagnose",
    "Unfalldatum",
    "Seite",
    "OP-Datum",
    "Implantat",
    "BMI",
    "Aufnahme",
    "Kalibrierung",
    "Postop Datum",
    "Postop CCD",
    "6 Wo Datum",
    "6 Wo Schmerz",
    "CC-Abstand 6 Wo",
    "12 Monate Datum",
    "12 Monate QuickDASH",
    "Bemerkung",
]


def main() -> None:
    """Make a file and import it."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    kind = "xlsx" if "xlsx" in sys.argv[2:] else "csv"
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HOLDFAST_DATA_DIR"] = folder
        os.environ.setdefault("HOLDFAST_DATABASE", f"sqlite:///{folder}/imports.sqlite3")
        os.environ.setdefault("HOLDFAST_BROKER", "memory://")
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        import django  # noqa: PLC0415

        django.setup()
        path = Path(folder) / f"list.{kind}"
        (_write_xlsx if kind == "xlsx" else _write)(path, rows)
        print(f"{rows:,} rows, {path.stat().st_size / 1e6:.1f} MB; at start {_peak():.0f} MB")
        _measure(path, rows, only_check="check" in sys.argv[2:])


def _write(path: Path, rows: int) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, delimiter=";").writerows([HEADER, *_rows(rows)])


def _write_xlsx(path: Path, rows: int) -> None:
    import openpyxl  # noqa: PLC0415 - only where it is asked for

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("List")
    sheet.append(HEADER)
    for row in _rows(rows):
        sheet.append(row)
    book.save(path)


def _rows(rows: int) -> Iterator[tuple[str, ...]]:
    drawn = random.Random(4)  # noqa: S311 - an invented list, not a secret
    letters = "abcdefghijklmnopqrstuvwxyz"
    for number in range(rows):
        name = "".join(drawn.choices(letters, k=9)).capitalize()
        given = "".join(drawn.choices(letters, k=6)).capitalize()
        born = f"{drawn.randint(1, 28):02d}.{drawn.randint(1, 12):02d}.{drawn.randint(1930, 2004)}"
        cells = (born, "LCF", "03.02.2024", drawn.choice(("li", "re")), "06.02.2024", "Platte")
        found = ("23,4", "zanca", "Kugel", "08.02.2024", "9,1", "20.03.2024", "3", "9,6")
        late = ("04.02.2025", "12,5", "nett")
        yield (f"{number:06d}", name, given, *cells, *found, *late)


def _measure(path: Path, rows: int, *, only_check: bool) -> None:
    # Only once the settings are there.
    from django.core.files.base import File  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from followup.services import import_runs, import_work, uploads  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.followup.sent_files import settled  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    builders.load_defaults()
    site, by = builders.site(), builders.person("connie", north="coordinator")
    now, today = timezone.now(), timezone.localdate()
    with path.open("rb") as source:
        draft = uploads.keep_upload(content=File(source), name=path.name, site=site, by=by, now=now)
    _timed("looked through", rows, lambda: import_work.work(draft, now=now, today=today))
    draft.refresh_from_db()
    _timed("settled and checked", rows, lambda: settled(draft, construct_type="LP"))
    draft.refresh_from_db()
    print(
        f"good {draft.rows_good:,}, waiting {draft.rows_waiting:,}, refused {draft.rows_rejected:,}"
    )
    if only_check:
        return
    batch = import_runs.start(draft, by=by, now=now)
    _timed("landed and settled", rows, lambda: import_work.work(draft, now=now, today=today))
    batch.refresh_from_db()
    counts = (batch.rows_landed, batch.rows_known, batch.rows_refused, batch.rows_waiting)
    print(f"rows in {batch.rows_read:,} = landed, known, refused, waiting {counts}")


def _timed(what: str, rows: int, act: Any) -> None:
    began, worked = time.perf_counter(), time.process_time()
    act()
    spent, worked = time.perf_counter() - began, time.process_time() - worked
    print(
        f"{what:22} {spent:8.1f} s by the clock, {worked:8.1f} s of the processor, "
        f"{rows / worked:6.0f} rows/s of it, peak {_peak():5.0f} MB",
        flush=True,
    )


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
