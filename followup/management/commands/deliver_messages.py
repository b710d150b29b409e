from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import messages


class Command(BaseCommand):
    help = "Send the messages to patients that may go now."

    def handle(self, *args: Any, **given: Any) -> None:
        counts = messages.deliver_waiting(now=timezone.now())
        self.stdout.write(", ".join(f"{count} {what}" for what, count in counts.items()) + ".")
