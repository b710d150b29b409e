"""Sealing the audit trail into its hash chain, writing down reads, erasing names, verifying the whole."""

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.db import connection, transaction
from django.db.models import Q, QuerySet

from registry.models.audit import AuditEntry, ChainHead
from registry.models.patients import Patient
from registry.models.people import Person
from registry.rules import chain
from registry.services import jobs, triggers

BATCH = 2000
ERASED = "erase"
SEAL_MANY = """
UPDATE registry_auditentry AS entry
SET position = seal.position, previous_hash = seal.previous_hash, hash = seal.hash,
    before_digest = seal.before_digest, after_digest = seal.after_digest
FROM jsonb_to_recordset(%s::jsonb) AS seal(
    id bigint, position bigint, previous_hash text, hash text,
    before_digest text, after_digest text)
WHERE entry.id = seal.id
"""


class Entry(NamedTuple):
    """What of an entry its seal covers."""

    id: int
    at: datetime
    action: str
    table: str
    row_id: str
    before: Any
    after: Any
    person_id: int | None
    reason: str


FACTS = Entry._fields


@dataclass(frozen=True)
class Verification:
    """What verifying found: entries checked, entries not sealed yet, entries erased, first fault."""

    checked: int
    unsealed: int
    erased: int
    broken: chain.BrokenLink | None
    entry: AuditEntry | None


def seal_all() -> int:
    """Seal everything that the trail has gained since it was last sealed; return how many."""
    done, sealed = 0, BATCH
    # A short batch was the end of it; what has come meanwhile is for the next minute.
    while sealed == BATCH:
        sealed = seal_batch()
        jobs.beat(sealed)
        done += sealed
    return done


def seal_batch() -> int:
    """Seal the oldest unsealed entries, at most one batch; return how many, 0 when none are left."""
    if not unsealed_entries().exists():
        # Nobody is kept waiting for the chain where there is nothing to add to it.
        return 0
    with transaction.atomic():
        return _seal(unsealed_entries(), limit=BATCH)


def unsealed_entries() -> QuerySet[AuditEntry]:
    """Return what is not in the chain yet."""
    return AuditEntry.objects.filter(position__isnull=True)


def _seal(unsealed: QuerySet[AuditEntry], limit: int | None = None) -> int:
    # Entries are read under the lock: another transaction may have sealed them while we waited.
    head, _ = ChainHead.objects.select_for_update().get_or_create(id=1)
    position, previous, done, last = head.position, head.hash, 0, 0
    while limit is None or done < limit:
        size = BATCH if limit is None else min(BATCH, limit - done)
        entries = list(unsealed.filter(id__gt=last).order_by("id").values_list(*FACTS)[:size])
        if not entries:
            break
        rows = []
        for entry in map(Entry._make, entries):
            position += 1
            before, after = digest(entry.before), digest(entry.after)
            seal = chain.seal(previous, _facts(entry, position, before, after))
            rows.append((position, previous, seal, before, after, entry.id))
            previous = seal
        _write_seals(rows)
        done, last = done + len(rows), rows[-1][-1]
        if len(rows) < size:
            # That was the last of them; there is no need to ask once more.
            break
    if done:
        ChainHead.objects.filter(id=1).update(position=position, hash=previous)
    return done


def _write_seals(rows: list[tuple[int, str, str, str, str, int]]) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # One statement for all: row by row, this took longer than the hashing.
            names = ("position", "previous_hash", "hash", "before_digest", "after_digest", "id")
            content = json.dumps([dict(zip(names, row, strict=True)) for row in rows])
            cursor.execute(SEAL_MANY, [content])
            return
        cursor.executemany(
            "UPDATE registry_auditentry SET position = %s, previous_hash = %s, hash = %s, "
            "before_digest = %s, after_digest = %s WHERE id = %s",
            rows,
        )


def digest(content: Any) -> str:
    """Return the SHA-256 of a row's content, '' where there is none."""
    return "" if content is None else hashlib.sha256(chain.canonical({"row": content})).hexdigest()


def _facts(entry: AuditEntry | Entry, position: int, before: str, after: str) -> dict[str, Any]:
    return {
        "id": entry.id,
        "position": position,
        "at": entry.at.isoformat(timespec="microseconds"),
        "action": entry.action,
        "table": entry.table,
        "row_id": entry.row_id,
        "before": before,
        "after": after,
        "person_id": entry.person_id,
        "reason": entry.reason,
    }


def _older_facts(entry: AuditEntry, facts: dict[str, Any]) -> dict[str, Any]:
    """Return what seals covered at first: neither an entry's number nor less than a millisecond."""
    covered = {name: fact for name, fact in facts.items() if name != "id"}
    return {**covered, "at": entry.at.isoformat(timespec="milliseconds")}


def record_read(*, by: Person, patient: Patient, now: datetime, page: str) -> None:
    """Write down that somebody opened an identified patient."""
    _write_down("read", by=by, row=patient, now=now, reason=page)


def record_list(*, by: Person, keys: Sequence[str], now: datetime, page: str) -> None:
    """Write down in one entry that somebody saw a list that names patients, and whom."""
    seen = {"keys": sorted(keys)}
    _write_down("read", by=by, table=Patient._meta.db_table, now=now, reason=page, after=seen)


def record_taken(*, by: Person, table: str, row_id: str, now: datetime, what: str) -> None:
    """Write down that somebody took away data of many patients, and from which row they were made."""
    _write_down("read", by=by, table=table, row_id=row_id, now=now, reason=what)


def record_factors_removed(
    *, person: Person, named: Sequence[str], reason: str, by: Person, now: datetime
) -> None:
    """Write down that an administrator took a person's second factors away, which, and why."""
    _write_down(
        "update",
        by=by,
        row=person,
        now=now,
        reason=reason,
        before={"second_factors": list(named)},
        after={"second_factors": []},
    )


def record_tie(*, person: Person, before: str, after: str, by: Person, now: datetime) -> None:
    """Write down to which subject of the hospital's provider a person is tied; '' for none."""
    _write_down(
        "update",
        by=by,
        row=person,
        now=now,
        reason="the hospital's sign-in",
        before={"subject": before},
        after={"subject": after},
    )


def erase_names(*, patient: Patient, reason: str, by: Person, now: datetime) -> int:
    """Blank what the trail says of a patient's names and identifiers; return how many entries.

    The entries themselves, who wrote them and when, stay, and so does the chain. An entry about
    the erasure lists them, and verifying holds every blanked entry against that list.
    """
    with transaction.atomic():
        theirs = AuditEntry.objects.filter(
            Q(before__patient_id=patient.pk) | Q(after__patient_id=patient.pk),
            table__in=triggers.ERASABLE,
        )
        listed = sorted(theirs.values_list("id", flat=True))
        # After the list, so that all of it is sealed: what is not sealed cannot be blanked.
        _seal(unsealed_entries())
        AuditEntry.objects.filter(id__in=listed).update(before=None, after=None)
        _write_down(ERASED, by=by, row=patient, now=now, reason=reason, after={"trail": listed})
        # Who verifies in the meantime is to find the blanked entries announced.
        _seal(unsealed_entries())
    return len(listed)


def _write_down(
    action: str,
    *,
    by: Person,
    now: datetime,
    reason: str,
    row: Patient | Person | None = None,
    table: str = "",
    row_id: str = "",
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> None:
    """Write one entry that no trigger writes, about a row or, without one, a table."""
    AuditEntry.objects.create(
        at=now,
        action=action,
        table=row._meta.db_table if row else table,
        row_id=str(row.pk) if row else row_id,
        person_id=by.pk,
        reason=reason[:400],
        before=before,
        after=after,
    )


def sealed_entries() -> QuerySet[AuditEntry]:
    """Return what is sealed, in the order of the chain."""
    return AuditEntry.objects.filter(position__isnull=False).order_by("position")


def verify(entries: Iterator[AuditEntry] | None = None) -> Verification:
    """Walk the whole chain and name the first link that does not hold.

    `entries` are the sealed entries in order, given by a caller who wants to show progress.
    """
    walk = _Walk(entries if entries is not None else sealed_entries().iterator(chunk_size=BATCH))
    found = (chain.first_broken_link(iter(walk)), walk.odd, walk.short())
    broken = min(filter(None, found), key=lambda link: link.position, default=None)
    entry = sealed_entries().filter(position=broken.position).first() if broken else None
    unsealed = unsealed_entries().count()
    return Verification(walk.checked, unsealed, walk.erased, broken, entry)


class _Walk:
    """Turns entries into links, and remembers what cannot be seen in one link alone."""

    def __init__(self, entries: Iterator[AuditEntry]) -> None:
        self._entries = entries
        self._announced = _announced()
        self._last: AuditEntry | None = None
        self.checked = 0
        self.erased = 0
        self.odd: chain.BrokenLink | None = None

    def __iter__(self) -> Iterator[chain.SealedEntry]:
        for entry in self._entries:
            self.checked += 1
            self._last = entry
            before, after = digest(entry.before), digest(entry.after)
            if self._is_blank(entry):
                before, after = entry.before_digest, entry.after_digest
                self._note_blank(entry)
            elif (before, after) != (entry.before_digest, entry.after_digest):
                self._note(entry, "its digests are not those of its content")
            position = entry.position or 0
            facts = _facts(entry, position, before, after)
            older = _older_facts(entry, facts)
            yield chain.SealedEntry(position, facts, entry.previous_hash, entry.hash, older)

    def _is_blank(self, entry: AuditEntry) -> bool:
        empty = entry.before is None and entry.after is None
        return empty and entry.table in triggers.ERASABLE

    def _note_blank(self, entry: AuditEntry) -> None:
        self.erased += 1
        if entry.pk not in self._announced:
            self._note(entry, "its content was removed without an erasure")

    def _note(self, entry: AuditEntry, what: str) -> None:
        self.odd = self.odd or chain.BrokenLink(entry.position or 0, what)

    def short(self) -> chain.BrokenLink | None:
        """Say whether the chain ends before the place where it was last sealed."""
        head = ChainHead.objects.filter(id=1).first() or ChainHead(hash=chain.START)
        position, last_hash = (0, chain.START)
        if self._last is not None:
            position, last_hash = self._last.position or 0, self._last.hash
        if (position, last_hash) == (head.position, head.hash):
            return None
        return chain.BrokenLink(position + 1, "the end of the chain is missing")


def _announced() -> set[int]:
    erasures = AuditEntry.objects.filter(action=ERASED, position__isnull=False)
    listed: set[int] = set()
    for after in erasures.values_list("after", flat=True):
        listed.update((after or {}).get("trail", []))
    return listed
