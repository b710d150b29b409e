"""Freezing the cohort frames, so that a page costs the same however many rows lie behind it."""

import gzip
import hashlib
import json
from datetime import date, datetime
from typing import Any

import pandas as pd
from django.conf import settings
from django.db.models import Max

from analytics.models.snapshots import Snapshot
from analytics.selectors import frames
from analytics.selectors.frames import Frames
from registry.models.audit import AuditEntry

NAMES = (
    "cases",
    "readings",
    "complications",
    "reoperations",
    "reviews",
    "motion",
    "scores",
    "asked",
)
KEPT = 20
# Below this many index procedures a page makes a fresh snapshot itself instead of showing an old one.
SMALL = 5000


def current(*, now: datetime, today: date) -> Snapshot:
    """Return a snapshot to show: the newest, made again when data changed and the service is small."""
    newest = Snapshot.objects.defer("frames").first()
    if newest is None:
        return refresh(now=now, today=today)
    if is_fresh(newest, today):
        return newest
    return refresh(now=now, today=today) if newest.row_counts["cases"] < SMALL else newest


def refresh_stale(*, now: datetime, today: date) -> Snapshot:
    """Return the newest snapshot, taken again when data have changed since, however many they are."""
    newest = Snapshot.objects.defer("frames").first()
    if newest is not None and is_fresh(newest, today):
        return newest
    return refresh(now=now, today=today)


def is_fresh(snapshot: Snapshot, today: date) -> bool:
    """Say whether nothing changed since a snapshot was taken; reads of pages are no change."""
    return snapshot.cutoff == today and snapshot.audit_position >= _last_change()


def refresh(*, now: datetime, today: date) -> Snapshot:
    """Freeze the frames of every site up to today; the oldest snapshots beyond a few are dropped.

    Freezing the same data twice gives the same hash and keeps the earlier snapshot.
    """
    snapshot = as_of(now=now, cutoff=today)
    newest = Snapshot.objects.defer("frames").first()
    same = newest is not None and newest.content_hash == snapshot.content_hash
    if newest is not None and same and newest.cutoff == today:
        newest.audit_position = snapshot.audit_position
        newest.save(update_fields=["audit_position"])
        return newest
    snapshot.save()
    old = list(Snapshot.objects.values_list("id", flat=True)[KEPT:])
    Snapshot.objects.filter(pk__in=old).delete()
    return snapshot


def as_of(*, now: datetime, cutoff: date) -> Snapshot:
    """Return the frames of every site up to a day, frozen but not kept: pages show the newest."""
    position = _last_change()
    content = _packed(frames.build(None, cutoff))
    unpacked = json.loads(content)
    return Snapshot(
        taken_at=now,
        cutoff=cutoff,
        audit_position=position,
        content_hash=hashlib.sha256(content).hexdigest(),
        row_counts={
            **{name: len(unpacked[name]["data"]) for name in NAMES},
            "opted_out": frames.opted_out(cutoff),
        },
        code_version=settings.CODE_VERSION,
        frames=gzip.compress(content, compresslevel=5, mtime=0),
    )


def frames_of(snapshot: Snapshot) -> Frames:
    """Return the frames of a snapshot.

    Raises ValueError when its content does not match its hash.
    """
    content = gzip.decompress(bytes(snapshot.frames))
    if hashlib.sha256(content).hexdigest() != snapshot.content_hash:
        raise ValueError(f"snapshot {snapshot.pk} was changed after it was taken")
    packed = json.loads(content)
    parts = {name: _unpacked(packed[name]) for name in NAMES}
    parts["cases"] = parts["cases"].set_index("procedure_id")
    return Frames(cutoff=snapshot.cutoff, **parts)


def _packed(parts: Frames) -> bytes:
    """Write the frames as JSON in one fixed order, so that equal data give equal bytes."""
    tables = {}
    for name in NAMES:
        frame = getattr(parts, name)
        frame = frame.reset_index() if name == "cases" else frame
        types = {column: str(kind) for column, kind in frame.dtypes.items()}
        text = frame.to_json(orient="split", date_format="iso", date_unit="s", index=False)
        tables[name] = {**json.loads(text), "types": types}
    return json.dumps(tables, sort_keys=True, separators=(",", ":")).encode()


def _unpacked(table: dict[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(table["data"], columns=table["columns"], dtype=object)
    for column, kind in table["types"].items():
        if kind.startswith("datetime"):
            moments = pd.to_datetime(frame[column], utc=True)
            frame[column] = moments.dt.tz_localize(None).astype("datetime64[ns]")
        elif kind == "category":
            frame[column] = frame[column].astype("str").astype("category")
        else:
            frame[column] = frame[column].astype(kind)
    return frame


def _last_change() -> int:
    changes = AuditEntry.objects.exclude(action="read")
    return changes.aggregate(last=Max("id"))["last"] or 0
