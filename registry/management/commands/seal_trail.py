import sys
from typing import Any

from django.core.management.base import BaseCommand
from tqdm import tqdm

from registry.services import audit


class Command(BaseCommand):
    help = "Seal every entry of the audit trail that is not in its hash chain yet."

    def handle(self, *args: Any, **given: Any) -> None:
        waiting = audit.unsealed_entries().count()
        with tqdm(total=waiting, unit=" entries", disable=not sys.stderr.isatty()) as bar:
            while sealed := audit.seal_batch():
                bar.update(sealed)
        self.stdout.write(f"{waiting} entries sealed." if waiting else "Everything is sealed.")
