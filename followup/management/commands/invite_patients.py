from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from followup.services import invitations


class Command(BaseCommand):
    help = "Invite patients to answer at home where a window has opened, and remind who has not."

    def handle(self, *args: Any, **given: Any) -> None:
        done = invitations.invite_patients(now=timezone.now())
        self.stdout.write(
            f"{done.invited} invited, {done.reminded} reminded, "
            f"{done.landed} unfinished ones kept as they were."
        )
