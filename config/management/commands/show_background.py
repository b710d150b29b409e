from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from config import background


class Command(BaseCommand):
    help = (
        "Show how the background work stands: each job's last run, how long it took, its next run, "
        "and what is stuck. Ends with 1 where something is to be looked at."
    )

    def handle(self, *args: Any, **given: Any) -> None:
        now = timezone.now()
        rows = background.lines(now)
        self.stdout.write(
            f"{'job':20}  {'last run':16}  {'took':>9}  {'next run':16}  what it said"
        )
        for row in rows:
            last = row.lock.last_run if row.lock else None
            began = f"{timezone.localtime(last.started_at):%Y-%m-%d %H:%M}" if last else "never"
            then = f"{row.next_at:%Y-%m-%d %H:%M}" if row.next_at else "switched off"
            self.stdout.write(f"{row.job:20}  {began:16}  {row.took:>9}  {then:16}  {row.said}")
        queue = background.queue_length()
        self.stdout.write(f"Tasks waiting for a worker: {'not known' if queue is None else queue}.")
        found = list(background.concerns(rows, background.worker_state(rows, now), queue, now))
        for one in found:
            self.stderr.write(f"To be looked at: {one}")
        if found:
            raise SystemExit(1)
