from typing import Any

from django.core.management.base import BaseCommand

from config import beat


class Command(BaseCommand):
    help = "Copy the schedule of the background work from code to the database."

    def handle(self, *args: Any, **given: Any) -> None:
        beat.copy_schedule()
        self.stdout.write(f"Schedule: {len(beat.SCHEDULE)} entries.")
