"""Freezing the cohort frames, so that a page costs the same however many rows lie behind it."""

import hashlib
import threading
from collections import OrderedDict
from datetime import date, datetime
from typing import Any

import pandas as pd
from django.conf import settings
from django.db import transaction
from django.db.models import Max, ProtectedError, QuerySet

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.exchange import first_snapshots, parquet
from analytics.models.snapshots import Snapshot, SnapshotTable
from analytics.rules import keeping
from analytics.selectors import frames
from analytics.selectors.frames import NAMES, Frames, verdicts_name
from registry.errors import BadInput
from registry.models.audit import AuditEntry
from registry.selectors import choices

# Below this many index procedures a page makes a fresh snapshot itself instead of showing an old one.
SMALL = 500
# How many snapshots' frames a process holds unpacked: the newest, and an older one beside it.
UNPACKED = 2
LEAST_PREFIX = 8
_unpacked: "OrderedDict[str, Frames]" = OrderedDict()
_lock = threading.Lock()


def current(*, now: datetime, today: date) -> Snapshot:
    """Return a snapshot to show: the newest, made again when data changed and the service is small.

    One of an earlier version, which lacks a table that pages read by now, is always made again; so is
    one since which a patient opted out of the registry: no page shows them for one more night.
    """
    newest = _newest()
    if newest is None or not _is_whole(newest):
        return refresh(now=now, today=today)
    if is_fresh(newest, today):
        return newest
    small = newest.row_counts["cases"] < SMALL
    if small or choices.ended_since(newest.taken_at):
        return refresh(now=now, today=today)
    return newest


def named(prefix: str) -> Snapshot:
    """Return the kept snapshot whose hash begins so.

    Raises BadInput where it is no such hash, or none is kept or more than one.
    """
    if len(prefix) < LEAST_PREFIX or not set(prefix) <= set("0123456789abcdef"):
        raise BadInput(
            {"snapshot": f"'{prefix}' is not the beginning of a hash: {LEAST_PREFIX} of 0-9, a-f"}
        )
    found = list(Snapshot.objects.defer("frames").filter(content_hash__startswith=prefix)[:2])
    if not found:
        raise BadInput({"snapshot": f"no snapshot '{prefix}' is kept; open one of those that are"})
    if len({one.content_hash for one in found}) > 1:
        raise BadInput({"snapshot": f"several snapshots begin with '{prefix}': give more of it"})
    return found[0]


def refresh_stale(*, now: datetime, today: date) -> Snapshot:
    """Return the newest snapshot, taken again when data have changed since, however many they are.

    Verdicts are stored beside a large one, so that no page has to work them out.
    """
    newest = _newest()
    if newest is None or not is_fresh(newest, today):
        newest = refresh(now=now, today=today)
    if newest.row_counts["cases"] >= SMALL:
        add_verdicts(newest)
    return newest


def is_fresh(snapshot: Snapshot, today: date) -> bool:
    """Say whether nothing changed since a snapshot was taken; reads of pages are no change.

    One of an earlier version, which lacks a table that pages read by now, is never fresh.
    """
    current = snapshot.cutoff == today and snapshot.audit_position >= _last_change()
    return current and _is_whole(snapshot)


def _is_whole(snapshot: Snapshot) -> bool:
    return set(NAMES) <= set(snapshot.row_counts)


def refresh(*, now: datetime, today: date) -> Snapshot:
    """Freeze the frames of every site up to today; old snapshots that nobody needs are dropped.

    Freezing the same data twice gives the same hash and keeps the earlier snapshot.
    """
    snapshot, tables = _frozen(now, today)
    newest = _newest()
    if newest is not None and newest.content_hash == snapshot.content_hash:
        # Whoever is in none of the frames may have changed nothing but how many such there are.
        newest.audit_position, newest.row_counts = snapshot.audit_position, snapshot.row_counts
        newest.save(update_fields=["audit_position", "row_counts"])
        return newest
    with transaction.atomic():
        snapshot.save()
        for table in tables:
            table.snapshot = snapshot
        SnapshotTable.objects.bulk_create(tables, batch_size=1)
    drop_old()
    return snapshot


def as_of(*, now: datetime, cutoff: date) -> Snapshot:
    """Return the frames of every site up to a day, frozen but not kept: pages show the newest."""
    position = _last_change()
    built = frames.build(None, cutoff)
    hashes = {name: parquet.fingerprint(getattr(built, name)) for name in NAMES}
    snapshot = _described(built, hashes, now, position)
    _hold(snapshot, built)
    return snapshot


def add_verdicts(snapshot: Snapshot) -> int:
    """Store the verdicts of every shipped definition beside a snapshot; return how many were new.

    Those that other rules made are dropped.
    """
    there = set(snapshot.tables.values_list("name", flat=True))
    missing = [row for row in DEFINITIONS.values() if verdicts_name(row) not in there]
    if not missing or snapshot.code_version != settings.CODE_VERSION:
        return 0
    held = frames_of(snapshot)
    wanted = (*NAMES, *map(verdicts_name, DEFINITIONS.values()))
    snapshot.tables.exclude(name__in=wanted).delete()
    for definition in missing:
        made = _table(verdicts_name(definition), _short(held.verdicts(definition)))
        made.snapshot = snapshot
        SnapshotTable.objects.bulk_create([made], ignore_conflicts=True)
    return len(missing)


def keep(*, snapshot: Snapshot, why: str) -> None:
    """Hold a snapshot, in words, so that it is not dropped; holding it twice changes nothing."""
    with transaction.atomic():
        row = Snapshot.objects.select_for_update().defer("frames").get(pk=snapshot.pk)
        if why not in row.kept_for:
            row.kept_for = [*row.kept_for, why]
            row.save(update_fields=["kept_for"])


def let_go(*, snapshot: Snapshot, why: str) -> None:
    """Take back the words for which a snapshot was held."""
    with transaction.atomic():
        row = Snapshot.objects.select_for_update().defer("frames").get(pk=snapshot.pk)
        row.kept_for = [words for words in row.kept_for if words != why]
        row.save(update_fields=["kept_for"])


def drop_old() -> None:
    """Drop the snapshots that nobody needs; one that another row is made from stays."""
    rows = Snapshot.objects.values_list("id", "cutoff", "kept_for")
    copies = [keeping.Copy(key, on, held=bool(words)) for key, on, words in rows]
    for key in keeping.to_drop(copies):
        try:
            Snapshot.objects.filter(pk=key).delete()
        except ProtectedError:
            continue


def frames_of(snapshot: Snapshot) -> Frames:
    """Return the frames of a snapshot, each unpacked when it is first asked for.

    They are shared by whoever asks next in this process. Raises ValueError when what is stored does
    not match its hash.
    """
    with _lock:
        if snapshot.content_hash in _unpacked:
            _unpacked.move_to_end(snapshot.content_hash)
            return _unpacked[snapshot.content_hash]
    opened = _opened(snapshot)
    _hold(snapshot, opened)
    return opened


def _hold(snapshot: Snapshot, opened: Frames) -> None:
    opened.hash = snapshot.content_hash
    with _lock:
        _unpacked[snapshot.content_hash] = opened
        _unpacked.move_to_end(snapshot.content_hash)
        while len(_unpacked) > UNPACKED:
            _unpacked.popitem(last=False)


def _opened(snapshot: Snapshot) -> Frames:
    rows = dict(snapshot.tables.values_list("name", "content_hash"))
    if not rows:
        return first_snapshots.frames_of(snapshot)
    # One of an earlier version has fewer tables; those are what its hash is of.
    hashes = {name: rows[name] for name in NAMES if name in rows}
    if whole_hash(hashes, snapshot.cutoff) != snapshot.content_hash:
        raise ValueError(f"snapshot {snapshot.pk} was changed after it was taken")
    same_code = snapshot.code_version == settings.CODE_VERSION

    def load(name: str) -> pd.DataFrame | None:
        if name in NAMES:
            return _read(snapshot, name) if name in hashes else None
        return _read(snapshot, name) if same_code and _has(snapshot, name) else None

    return Frames(snapshot.cutoff, load)


def newest() -> Snapshot:
    """Return the newest snapshot, however old.

    Raises BadInput where there is none yet.
    """
    found = _newest()
    if found is None:
        raise BadInput("No snapshot was taken yet: run manage.py refresh_snapshot.")
    return found


def _stored(snapshot: Snapshot, name: str) -> "QuerySet[SnapshotTable]":
    """Find a table by what the snapshot holds: the row that was opened first may be dropped by now."""
    same = SnapshotTable.objects.filter(snapshot__content_hash=snapshot.content_hash, name=name)
    return same.order_by("-id")


def _has(snapshot: Snapshot, name: str) -> bool:
    return _stored(snapshot, name).exists()


def _read(snapshot: Snapshot, name: str) -> pd.DataFrame:
    row = _stored(snapshot, name).first()
    if row is None:
        raise ValueError(f"snapshot {snapshot.content_hash[:12]} is not kept any more")
    content = bytes(row.content)
    if hashlib.sha256(content).hexdigest() != row.bytes_hash:
        raise ValueError(f"table {name} of snapshot {snapshot.pk} was changed after it was taken")
    return parquet.unpacked(content)


def _frozen(now: datetime, today: date) -> tuple[Snapshot, list[SnapshotTable]]:
    position = _last_change()
    built = frames.build(None, today)
    tables = [_table(name, getattr(built, name)) for name in NAMES]
    hashes = {table.name: table.content_hash for table in tables}
    return _described(built, hashes, now, position), tables


def _described(built: Frames, hashes: dict[str, str], now: datetime, position: int) -> Snapshot:
    counts: dict[str, Any] = {name: len(getattr(built, name)) for name in NAMES}
    return Snapshot(
        taken_at=now,
        cutoff=built.cutoff,
        audit_position=position,
        content_hash=whole_hash(hashes, built.cutoff),
        row_counts={**counts, "opted_out": frames.opted_out(built.cutoff)},
        code_version=settings.CODE_VERSION,
        definitions={row.id: row.version for row in DEFINITIONS.values()},
    )


def _table(name: str, frame: pd.DataFrame) -> SnapshotTable:
    content = parquet.packed(frame)
    return SnapshotTable(
        name=name,
        rows=len(frame),
        content_hash=parquet.fingerprint(frame),
        bytes_hash=hashlib.sha256(content).hexdigest(),
        content=content,
    )


def _short(verdicts: pd.DataFrame) -> pd.DataFrame:
    """Keep the few words that verdicts repeat as codes."""
    words = verdicts.select_dtypes(["object", "str"]).columns
    return verdicts.astype(dict.fromkeys(words, "category"))


def whole_hash(hashes: dict[str, str], cutoff: date) -> str:
    """Return the hash of a snapshot: of its tables' hashes by name, and the day up to which it goes."""
    lines = [
        f"cutoff {cutoff.isoformat()}",
        *(f"{name} {hashes[name]}" for name in NAMES if name in hashes),
    ]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _newest() -> Snapshot | None:
    return Snapshot.objects.defer("frames").first()


def _last_change() -> int:
    changes = AuditEntry.objects.exclude(action="read")
    return changes.aggregate(last=Max("id"))["last"] or 0
