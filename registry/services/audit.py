"""Sealing the audit trail into its hash chain, writing down reads, and verifying the whole."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Max

from registry.models.audit import AuditEntry, ChainHead
from registry.models.patients import Patient
from registry.models.people import Person
from registry.rules import chain

BATCH = 2000


def last_entry() -> int:
    """Return the number of the newest entry, 0 where there is none."""
    return AuditEntry.objects.aggregate(last=Max("id"))["last"] or 0


def seal_since(entry_id: int) -> int:
    """Seal what was written after an entry, inside the caller's transaction; return how many."""
    unsealed = AuditEntry.objects.filter(id__gt=entry_id, position__isnull=True)
    return _seal(unsealed.order_by("id").iterator(chunk_size=BATCH))


def seal_all() -> int:
    """Seal everything that bulk writes or raw SQL left unsealed, batch by batch."""
    done = 0
    while True:
        with transaction.atomic():
            entries = AuditEntry.objects.filter(position__isnull=True).order_by("id")[:BATCH]
            sealed = _seal(iter(entries))
        done += sealed
        if not sealed:
            return done


def _seal(entries: Iterator[AuditEntry]) -> int:
    first = next(entries, None)
    if first is None:
        return 0
    ChainHead.objects.get_or_create(id=1)
    head = ChainHead.objects.select_for_update().get(id=1)
    position, previous = head.position, head.hash
    rows: list[tuple[int, str, str, int]] = []
    entry: AuditEntry | None = first
    while entry is not None:
        position += 1
        seal = chain.seal(previous, facts(entry, position))
        rows.append((position, previous, seal, entry.pk))
        previous = seal
        entry = next(entries, None)
    with connection.cursor() as cursor:
        cursor.executemany(
            "UPDATE registry_auditentry SET position = %s, previous_hash = %s, hash = %s "
            "WHERE id = %s",
            rows,
        )
    ChainHead.objects.filter(id=1).update(position=position, hash=previous)
    return len(rows)


def facts(entry: AuditEntry, position: int) -> dict[str, Any]:
    """Return what the hash of an entry covers, as plain JSON values."""
    return {
        "position": position,
        "at": entry.at.isoformat(timespec="milliseconds"),
        "action": entry.action,
        "table": entry.table,
        "row_id": entry.row_id,
        "before": entry.before,
        "after": entry.after,
        "person_id": entry.person_id,
        "reason": entry.reason,
    }


def record_read(*, by: Person, patient: Patient, now: datetime, page: str) -> None:
    """Write down that somebody opened an identified patient."""
    with transaction.atomic():
        start = last_entry()
        AuditEntry.objects.create(
            at=now,
            action="read",
            table=Patient._meta.db_table,
            row_id=str(patient.pk),
            person_id=by.pk,
            reason=page,
        )
        seal_since(start)
