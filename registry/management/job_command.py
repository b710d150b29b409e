"""A job of the background run by hand: the same path, lock and record as on schedule."""

import sys
from typing import Any, ClassVar

from django.core.management.base import BaseCommand, CommandError
from tqdm import tqdm

from registry.services import jobs


class JobCommand(BaseCommand):
    """What every such command does: run its task here and now, show progress, say how it went."""

    task: ClassVar[Any]

    def handle(self, *args: Any, **given: Any) -> None:
        with (
            tqdm(unit=" steps", disable=not sys.stderr.isatty()) as bar,
            jobs.heard_by(bar.update),
        ):
            done = self.task()
        if done["outcome"] == "failed":
            raise CommandError(done["said"])
        self.stdout.write(done["said"])
