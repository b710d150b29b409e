import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone
from tqdm import tqdm

from registry.errors import BadInput
from registry.models.audit import AuditEntry
from registry.rules.chain import BrokenLink
from registry.services import anchors, audit, triggers
from registry.services.moments import one_moment
from registry.services.trail_invariants import SEALED_WITHIN


class Command(BaseCommand):
    help = (
        "Verify the audit trail: the hash chain from its first entry to its last, what was written down "
        "of it outside the database, and the database triggers that write it. Ends with 1 and names the "
        "first broken link when it does not hold."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--anchors",
            type=Path,
            help="hold the chain against this copy of the file that anchor_trail writes each night",
        )

    def handle(self, *args: Any, **given: Any) -> None:
        # The worker seals meanwhile, and would move the end of the chain while it is walked.
        with one_moment():
            self._verify(given["anchors"])

    def _verify(self, anchors_file: Path | None) -> None:
        sealed = audit.sealed_entries()
        bar = tqdm(
            sealed.iterator(chunk_size=audit.BATCH),
            total=sealed.count(),
            unit=" entries",
            disable=not sys.stderr.isatty(),
        )
        found = audit.verify(iter(bar))
        self.stdout.write(f"{found.checked} sealed entries, {found.erased} blanked by erasures.")
        if found.unsealed:
            self.stdout.write(
                f"{found.unsealed} more are not sealed yet: the worker does it every minute, or seal_trail."
            )
        if found.broken is not None:
            raise CommandError(_fault(found.broken, found.entry))
        late = audit.unsealed_entries().filter(at__lt=timezone.now() - SEALED_WITHIN).count()
        if late:
            raise CommandError(
                f"{late} entries have waited for their seal for longer than {SEALED_WITHIN}: see that a "
                "worker runs, then seal_trail."
            )
        self._hold_to_anchors(anchors_file)
        missing = triggers.expected_names(connection) - triggers.trigger_names(connection)
        if missing:
            names = ", ".join(sorted(missing))
            raise CommandError(f"Triggers that write the trail are missing: {names}. Run migrate.")
        self.stdout.write("The chain holds.")

    def _hold_to_anchors(self, named: Path | None) -> None:
        path = named or Path(settings.TRAIL_ANCHORS)
        if not path.exists():
            if named:
                raise CommandError(f"There is no file {path}.")
            self.stdout.write("Nothing was written down outside the database: run anchor_trail.")
            return
        try:
            kept = anchors.anchors_in(path)
        except BadInput as fault:
            raise CommandError(str(fault)) from fault
        lost = anchors.first_lost(kept)
        if lost is not None:
            raise CommandError(
                f"{_fault(lost, None)} {path} says so; if this database was begun anew, give it "
                "another file (HOLDFAST_TRAIL_ANCHORS)."
            )
        self.stdout.write(f"{len(kept)} lines of {path} agree with it.")


def _fault(broken: BrokenLink, entry: AuditEntry | None) -> str:
    where = f"The chain breaks at position {broken.position}: {broken.what}"
    if entry is None:
        return f"{where}."
    what = f"{entry.action} {entry.table} {entry.row_id}, {entry.at:%Y-%m-%d %H:%M:%S} UTC"
    return f"{where} (entry {entry.pk}: {what})."
