from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from registry.errors import HoldfastError
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import access_reports


class Command(BaseCommand):
    help = (
        "Write everything that is held on one person into a ZIP: pages (PDF), the same as JSON, and the "
        "pictures of films. It names the person; who made it and why stands in the trail."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("key", help="the patient's key")
        parser.add_argument("target", type=Path, help="the file to write, such as report.zip")
        parser.add_argument("--by", required=True, help="your user name")
        parser.add_argument("--reason", required=True, help="who asked for it, when, in what way")

    def handle(self, *args: Any, **given: Any) -> None:
        patient = Patient.everything.filter(key=given["key"].strip().upper()).first()
        if patient is None:
            raise CommandError(f"There is no patient with the key {given['key']}.")
        by = Person.objects.filter(username=given["by"], is_active=True).first()
        if by is None:
            raise CommandError(f"--by: nobody with the user name '{given['by']}' may sign in.")
        target: Path = given["target"]
        begun = target.with_name(f"{target.name}.begun")
        try:
            begun.touch(mode=0o600)
            with begun.open("wb") as into:
                missing = access_reports.make(
                    patient=patient,
                    reason=given["reason"],
                    by=by,
                    now=timezone.now(),
                    target=into,
                )
            begun.replace(target)
        except (HoldfastError, OSError) as fault:
            raise CommandError(str(fault)) from fault
        finally:
            begun.unlink(missing_ok=True)
        self.stdout.write(f"{target}: everything that is held on {patient}. It names the person.")
        for name in missing:
            self.stdout.write(f"Not enclosed, because its storage does not have it: {name}")
