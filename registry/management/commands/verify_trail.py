import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from tqdm import tqdm

from registry.models.audit import AuditEntry
from registry.rules.chain import BrokenLink
from registry.services import audit, triggers


class Command(BaseCommand):
    help = (
        "Verify the audit trail: the hash chain from its first entry to its last, and the database "
        "triggers that write it. Ends with 1 and names the first broken link when it does not hold."
    )

    def handle(self, *args: Any, **given: Any) -> None:
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
            self.stdout.write(f"{found.unsealed} entries are not sealed yet: run seal_trail.")
        if found.broken is not None:
            raise CommandError(_fault(found.broken, found.entry))
        missing = triggers.expected_names(connection) - triggers.trigger_names(connection)
        if missing:
            names = ", ".join(sorted(missing))
            raise CommandError(f"Triggers that write the trail are missing: {names}. Run migrate.")
        self.stdout.write("The chain holds.")


def _fault(broken: BrokenLink, entry: AuditEntry | None) -> str:
    where = f"The chain breaks at position {broken.position}: {broken.what}"
    if entry is None:
        return f"{where}."
    what = f"{entry.action} {entry.table} {entry.row_id}, {entry.at:%Y-%m-%d %H:%M:%S} UTC"
    return f"{where} (entry {entry.pk}: {what})."
