from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from followup.services import case_export
from registry.models.people import Person
from registry.models.sites import Site


class Command(BaseCommand):
    help = (
        "Write the cases of a site to a CSV file, one row for each index procedure, in the columns "
        "of import_cases, with who the patients are. What has no place in them is counted and named."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, help="code of the site that the cases are of")
        parser.add_argument("--by", required=True, help="your user name, for the trail")

    def handle(self, *args: Any, **given: Any) -> None:
        by = Person.objects.filter(username=given["by"], is_active=True).first()
        if by is None:
            raise CommandError(f"--by: nobody with the user name '{given['by']}' may sign in.")
        site = Site.objects.filter(code=given["site"]).first()
        if site is None:
            raise CommandError(f"There is no site '{given['site']}'.")
        try:
            # Nobody else on the machine is to read who the patients are.
            given["file"].touch(mode=0o600, exist_ok=False)
            # Before anything is in the file: who is interrupted afterwards has taken it all the same.
            case_export.write_down(site, names=True, by=by, now=timezone.now())
            with given["file"].open("w", encoding="utf-8", newline="") as out:
                written = case_export.write(out, site)
        except FileExistsError as fault:
            raise CommandError(f"{given['file']} is there already; name another file.") from fault
        except OSError as fault:
            raise CommandError(f"{given['file']} cannot be written: {fault.strerror}.") from fault
        for one in written.left:
            self.stderr.write(f"Left out: {one}")
        self.stdout.write(f"{written.rows} cases written to {given['file']}.")
