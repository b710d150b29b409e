"""What must hold of snapshots, packs, alerts and signals."""

import hashlib
from collections.abc import Iterator

from django.db.models import Exists, F, OuterRef

from analytics.exchange import first_snapshots, parquet
from analytics.models.alerts import AlertState, LossAlert, LossAlertStep
from analytics.models.packs import FileKind, Pack, PackFile, PackState
from analytics.models.signals import Signal, SignalStep
from analytics.models.snapshots import Snapshot, SnapshotTable
from analytics.selectors.frames import NAMES
from analytics.services import snapshots
from registry.services.invariants import Breach, Invariant, Looking, broken_by

WHOLE = (FileKind.PDF, FileKind.TABLES, FileKind.DOCUMENT)


def _snapshots(looking: Looking) -> Iterator[Breach]:
    kept = Snapshot.objects.order_by("pk").defer("frames")
    for snapshot in kept.iterator(chunk_size=1):
        where = f"{Snapshot._meta.db_table} {snapshot.pk}"
        tables = dict(snapshot.tables.values_list("name", "content_hash"))
        if not tables:
            yield from _of_first_kind(snapshot, where)
            continue
        hashes = {name: tables[name] for name in NAMES if name in tables}
        if snapshots.whole_hash(hashes, snapshot.cutoff) != snapshot.content_hash:
            yield Breach(where, "its hash is not that of its tables")
        lacking = [name for name in NAMES if name in snapshot.row_counts and name not in tables]
        if lacking:
            yield Breach(where, f"it lacks {', '.join(lacking)}")
        yield from _tables(snapshot)


def _of_first_kind(snapshot: Snapshot, where: str) -> Iterator[Breach]:
    try:
        first_snapshots.frames_of(snapshot)
    except (ValueError, OSError, EOFError) as fault:
        yield Breach(where, str(fault))


def _tables(snapshot: Snapshot) -> Iterator[Breach]:
    for table in snapshot.tables.order_by("pk").iterator(chunk_size=1):
        where = f"{SnapshotTable._meta.db_table} {table.pk}"
        content = bytes(table.content)
        if hashlib.sha256(content).hexdigest() != table.bytes_hash:
            yield Breach(where, "its content is not what was kept")
            continue
        frame = parquet.unpacked(content)
        if len(frame) != table.rows or parquet.fingerprint(frame) != table.content_hash:
            yield Breach(where, "its hash is not that of its content")


def _packs(looking: Looking) -> Iterator[Breach]:
    ready = Pack.objects.filter(state=PackState.READY)
    for kind in WHOLE:
        there = Exists(PackFile.objects.filter(pack=OuterRef("pk"), kind=kind))
        yield from broken_by(ready.filter(~there), f"it is ready and lacks its {kind.label}")
    for file in PackFile.objects.order_by("pk").iterator(chunk_size=1):
        if hashlib.sha256(bytes(file.content)).hexdigest() != file.content_hash:
            yield Breach(f"{PackFile._meta.db_table} {file.pk}", "its content is not what was kept")


def _alerts(looking: Looking) -> Iterator[Breach]:
    steps = LossAlertStep.objects.filter(alert=OuterRef("pk"))
    yield from broken_by(
        LossAlert.objects.filter(~Exists(steps.filter(kind="raised"))),
        "no step says how it was raised",
    )
    for state in (AlertState.PLANNED, AlertState.TAKEN_BACK):
        taken = Exists(steps.filter(kind=state))
        yield from broken_by(
            LossAlert.objects.filter(~taken, state=state), f"no step says that it was {state.label}"
        )


def _signals(looking: Looking) -> Iterator[Breach]:
    last = SignalStep.objects.filter(signal=OuterRef("pk")).order_by("-pk").values("state")[:1]
    rows = Signal.objects.annotate(last=last)
    yield from broken_by(rows.filter(last__isnull=True), "no step says how it was raised")
    yield from broken_by(rows.exclude(last=F("state")), "its state is not that of its last step")


INVARIANTS = (
    Invariant("snapshots", "The hash of a snapshot is that of its content.", _snapshots),
    Invariant("packs", "A pack that is ready has its files, each as it was made.", _packs),
    Invariant("alerts", "An alert stands where its steps say.", _alerts),
    Invariant("signals", "A signal stands where its last step says.", _signals),
)
