import subprocess
import sys
import tempfile
from datetime import date
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from tqdm import tqdm

from config import env
from config.rehearsal import year
from config.rehearsal.accounts import Unaccounted
from config.rehearsal.year import Report
from registry.errors import BadInput

# A fixed day, so that the same seed is the same year whenever it is rehearsed.
START = date(2025, 1, 1)


class Command(BaseCommand):
    help = (
        "Rehearse a year of follow-up: invented patients come late, do not come, move, die, answer "
        "or not, day by day through the services that people use, in a database of its own that is "
        "thrown away. Every day the books must balance; at the end the counts are printed. Ends "
        "with 1 where anybody is lost."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--patients", type=int, default=60)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--days", type=int, default=year.DAYS)
        parser.add_argument(
            "--start",
            type=date.fromisoformat,
            default=START,
            help=f"first day, year-month-day; else {START}",
        )
        parser.add_argument(
            "--here", action="store_true", help="in the service's own database, if it is empty"
        )

    def handle(self, *args: Any, **given: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("Invented patients have no place in a service in production.")
        start = given["start"]
        if not given["here"]:
            self._elsewhere(given, start)
            return
        call_command("migrate", verbosity=0)
        call_command("load_defaults", verbosity=0)
        report = self._rehearse(given, start)
        self._tell(report)
        if not report.is_good:
            raise CommandError("Not everything is accounted for.")

    def _elsewhere(self, given: dict[str, Any], start: date) -> None:
        words = [f"--{name}={given[name]}" for name in ("patients", "seed", "days")]
        with tempfile.TemporaryDirectory(prefix="holdfast-year-") as folder:
            done = subprocess.run(  # noqa: S603 - our own command
                [
                    sys.executable,
                    sys.argv[0],
                    "rehearse_year",
                    "--here",
                    f"--start={start}",
                    *words,
                ],
                env=env.with_settings(
                    HOLDFAST_DATA_DIR=folder, HOLDFAST_DATABASE=f"sqlite:///{folder}/year.sqlite3"
                ),
                check=False,
            )
        if done.returncode:
            raise SystemExit(done.returncode)

    def _rehearse(self, given: dict[str, Any], start: date) -> Report:
        bar = tqdm(total=given["days"], unit=" days", file=sys.stderr)
        try:
            return year.rehearse(
                patients=given["patients"],
                seed=given["seed"],
                start=start,
                days=given["days"],
                progress=bar.update,
            )
        except (BadInput, ValueError, Unaccounted) as fault:
            raise CommandError(str(fault)) from None
        finally:
            bar.close()

    def _tell(self, report: Report) -> None:
        lines = [
            ("the year", "days", report.days),
            ("", "days on which the sums differed by 0", report.days_that_balanced),
            ("", "nights on which the machine was down", report.nights_missed),
            ("", "nightly jobs made up for afterwards", report.jobs_made_up),
            ("", "changes by running a night twice", report.changed_by_a_second_run),
            *(("what befell them", what, many) for what, many in sorted(report.events.items())),
            *report.table,
            ("the background", "", sum(report.background.values())),
            *(("", what, many) for what, many in sorted(report.background.items())),
            ("what arrived", "e-mails", report.letters),
            ("", "at night, after the end, twice or unwritten", len(report.wrong_with_post)),
            ("unaccounted", "reviews without an explained state", report.unexplained),
            ("", "hardware meant to come out, no question", report.without_question),
            ("", "messages that waited over a day", report.waiting_over_a_day),
        ]
        before = ""
        for what, words, many in lines:
            self.stdout.write(f"{what if what != before else '':32}  {words:44}  {many:6}")
            before = what or before
        for fault in report.wrong_with_post:
            self.stderr.write(fault)
