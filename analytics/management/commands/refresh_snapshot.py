from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from analytics.services import snapshots


class Command(BaseCommand):
    help = "Take a snapshot for the figures where the newest is out of date."

    def handle(self, *args: Any, **given: Any) -> None:
        taken = snapshots.refresh_stale(now=timezone.now(), today=timezone.localdate())
        self.stdout.write(f"Snapshot {taken.content_hash[:12]}, data up to {taken.cutoff}.")
