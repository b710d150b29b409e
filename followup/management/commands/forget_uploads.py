from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import uploads


class Command(BaseCommand):
    help = "Delete the files of cases that were sent in the browser more than a day ago."

    def handle(self, *args: Any, **given: Any) -> None:
        self.stdout.write(f"Files deleted: {uploads.forget_old(now=timezone.now())}.")
