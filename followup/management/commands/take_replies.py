import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from tqdm import tqdm

from followup.models.replies import ReplyFate
from followup.services import replies
from registry.errors import HoldfastError
from registry.models.sites import Site

COLUMNS = ("key", "from", "text")


class Command(BaseCommand):
    help = (
        "Take the answers of patients from a CSV file with the columns key, from and text, and "
        "where they are given means (text or email) and received_at (ISO 8601). The same key is "
        "taken once. Ends with 1 where a row cannot be taken; the others are."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, help="code of the site that they came to")

    def handle(self, *args: Any, **given: Any) -> None:
        site = Site.objects.filter(code=given["site"], is_active=True).first()
        if site is None:
            raise CommandError(f"There is no site '{given['site']}'.")
        try:
            with given["file"].open(encoding="utf-8-sig", newline="") as source:
                rows = list(_rows(csv.DictReader(source)))
        except (OSError, UnicodeDecodeError, csv.Error) as fault:
            raise CommandError(f"{given['file']} cannot be read: {fault}.") from fault
        fates, faults = self._take(site, rows)
        said = ", ".join(f"{many} {ReplyFate(fate).label.lower()}" for fate, many in fates.items())
        self.stdout.write(f"{len(rows)} answers read: {said or 'none taken'}.")
        if faults:
            raise CommandError(f"{faults} of {len(rows)} answers could not be taken.")

    def _take(self, site: Site, rows: Iterable[Mapping[str, str]]) -> tuple[Counter[str], int]:
        fates: Counter[str] = Counter()
        faults = 0
        for number, row in enumerate(tqdm(rows, unit=" answers", disable=None), 2):
            now = timezone.now()
            try:
                taken = replies.take_reply(
                    site=site,
                    key=row["key"],
                    means=row.get("means", "").strip() or "text",
                    sender=row["from"],
                    text=row["text"],
                    received_at=_moment(row.get("received_at", ""), now),
                    now=now,
                    today=timezone.localdate(),
                )
            except (HoldfastError, ValueError) as fault:
                faults += 1
                self.stderr.write(f"Row {number}: {fault}")
            else:
                fates[taken.fate] += 1
        return fates, faults


def _rows(reader: "csv.DictReader[str]") -> Iterator[Mapping[str, str]]:
    missing = [name for name in COLUMNS if name not in (reader.fieldnames or ())]
    if missing:
        raise CommandError(f"The first row does not name the columns {', '.join(missing)}.")
    for row in reader:
        yield {name: value or "" for name, value in row.items() if name is not None}


def _moment(text: str, now: datetime) -> datetime:
    """Return a moment; without an offset it is by the clock of this service.

    Raises ValueError for what is none.
    """
    if not text.strip():
        return now
    found = parse_datetime(text.strip())
    if found is None:
        raise ValueError(f"'{text}' is no moment; write 2026-11-25T09:30:00+00:00.")
    return found if timezone.is_aware(found) else timezone.make_aware(found)
