from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import hardware
from registry.services.background import background_person


class Command(BaseCommand):
    help = "Raise the question of removal for hardware whose time has come."

    def handle(self, *args: Any, **given: Any) -> None:
        raised = hardware.raise_planned_removals(
            by=background_person(), now=timezone.now(), today=timezone.localdate()
        )
        self.stdout.write(f"Questions raised: {raised}.")
