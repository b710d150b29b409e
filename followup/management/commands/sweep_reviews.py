from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import sweeping


class Command(BaseCommand):
    help = "Plan what is missing, move what lies on a day without a clinic, end what has closed."

    def handle(self, *args: Any, **given: Any) -> None:
        done = sweeping.sweep(now=timezone.now(), today=timezone.localdate())
        self.stdout.write(
            f"{done.planned} operations planned, {done.moved} reviews moved, "
            f"{done.lapsed} reviews lapsed, "
            f"{done.completed} completed."
        )
