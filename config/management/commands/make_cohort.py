import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from analytics.simulation import setting, truth
from config.demo import files, truth_table
from config.demo.load import Wanted, load
from registry.errors import BadInput
from registry.models import Site


class Command(BaseCommand):
    help = (
        "Make an invented service of any size in an empty database, and print the true rates that "
        "were put in beside the rates estimated from its rows."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--procedures", type=int, default=setting.DEMO_PROCEDURES)
        parser.add_argument("--sites", type=int, default=setting.DEMO_SITES)
        parser.add_argument("--seed", type=int, default=setting.DEMO_SEED)
        parser.add_argument("--years", type=int, default=setting.DEMO_YEARS)
        parser.add_argument(
            "--to",
            type=Path,
            help="write a sheet of cases for each site into this folder, not into the database",
        )
        parser.add_argument(
            "--rows-only", action="store_true", help="print no rates; for a service of any size"
        )
        parser.add_argument(
            "--until", type=date.fromisoformat, help="last day, year-month-day; else today"
        )

    def handle(self, *args: Any, **given: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("Invented cases have no place in a service in production.")
        wanted = Wanted(given["procedures"], given["sites"], given["seed"], given["years"])
        now, today = timezone.localtime(), given["until"] or timezone.localdate()
        if given["to"] is not None:
            self._write(given["to"], wanted, today)
        else:
            self._load(wanted, now, today)
            if not given["rows_only"]:
                self._tell(now, today)

    def _write(self, folder: Path, wanted: Wanted, today: date) -> None:
        try:
            for path, rows in files.write(folder, wanted, today):
                self.stdout.write(f"{path}: {rows} rows. {setting.INVENTED}")
        except (BadInput, OSError) as fault:
            raise CommandError(str(fault)) from None

    def _load(self, wanted: Wanted, now: datetime, today: date) -> None:
        bar = tqdm(total=wanted.procedures, unit=" cases", file=sys.stderr)
        try:
            written = load(wanted, now=now, today=today, whole=False, progress=bar.update)
        except BadInput as fault:
            raise CommandError(str(fault)) from None
        finally:
            bar.close()
        self.stdout.write(f"{wanted.procedures} cases in {written} rows. {setting.INVENTED}\n")

    def _tell(self, now: datetime, today: date) -> None:
        self.stdout.write("True shares that lose reduction by each horizon, and others")
        self._table(truth.table())
        self.stdout.write("\nWhere they come from")
        for one in truth.known_rates():
            self.stdout.write(f"{one.code}: {one.rate}, {one.value:.0%}: {one.source}")
        for title, *lines in truth_table.sections(list(Site.objects.all()), now=now, today=today):
            self.stdout.write(f"\n{title[0]}: what was put in, and what the rows give")
            self._table(lines)
        self.stdout.write(truth_table.note())

    def _table(self, lines: list[tuple[str, ...]]) -> None:
        widths = [max(len(line[at]) for line in lines) for at in range(len(lines[0]))]
        for line in lines:
            cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
            self.stdout.write("  ".join(cells).rstrip())
