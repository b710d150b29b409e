import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from registry.errors import HoldfastError
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import archives


class Command(BaseCommand):
    help = (
        "Write everything that the service holds, or one site's part, into one file in open formats: "
        "tables as NDJSON with their JSON Schemas, pictures beside, the trail with it. It holds names."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("target", type=Path, help="the file to write, such as service.zip")
        parser.add_argument("--site", help="the code of one site; without it everything is taken")
        parser.add_argument("--by", required=True, help="your user name, for the trail")

    def handle(self, *args: Any, **given: Any) -> None:
        by = Person.objects.filter(username=given["by"], is_active=True).first()
        if by is None:
            raise CommandError(f"--by: nobody with the user name '{given['by']}' may sign in.")
        site = Site.objects.filter(code=given["site"]).first() if given["site"] else None
        if given["site"] and site is None:
            known = ", ".join(Site.objects.values_list("code", flat=True))
            raise CommandError(f"--site: there is no site '{given['site']}'; there are {known}.")
        with tqdm(unit=" rows", disable=not sys.stderr.isatty()) as bar:
            try:
                made = archives.make_archive(
                    target=given["target"],
                    site=site,
                    by=by,
                    now=timezone.now(),
                    progress=lambda _, done: bar.update(done) and None,
                )
            except (HoldfastError, OSError) as fault:
                raise CommandError(str(fault)) from fault
        self.stdout.write(
            f"{given['target']}: {made.rows} rows, {len(made.members)} members, "
            f"SHA-256 of its content {made.content_hash}."
        )
        self.stdout.write("It holds names and findings: keep it as you keep the records.")
