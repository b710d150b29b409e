"""Copies of everything as FHIR: asked for, made by a worker type by type, handed out, forgotten.

A type's file is written anew from its first line until it is whole; only then is it noted. So a worker
that died leaves nothing half, and the next one goes on with the type at which it stopped; where the
asker sees other sites meanwhile, it begins anew.
"""

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from tempfile import TemporaryFile
from typing import IO, BinaryIO, cast
from uuid import UUID

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction

from followup.exchange.fhir import search
from followup.exchange.fhir.code_systems import code_systems
from followup.exchange.fhir.kinds import KINDS
from followup.models.bulk_exports import BulkExport, BulkFile, ExportState
from registry.errors import HoldfastError, NotAllowed
from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.rules.fhir.elements import Json
from registry.selectors import fhir_rows
from registry.selectors.fhir_rows import Seer
from registry.services import audit, jobs, retention

FOLDER = "fhir-exports"
KEPT_FOR = timedelta(days=1)
AT_ONCE = 3
CHUNK = 500
OUTCOME = "OperationOutcome"
WAITING = (ExportState.ASKED, ExportState.BEING_MADE)
ERASED = "A patient was erased, and this copy was deleted with them in it. Ask for it again."
# Whoever saved at the moment of the last copy may have committed a little later.
OVERLAP = timedelta(minutes=1)


class TooMany(HoldfastError):
    """Somebody asks for one more copy while several of theirs wait."""


class Cancelled(HoldfastError):
    """Whoever asked for it does not want it any more."""


@dataclass(frozen=True)
class Written:
    """What a file holds, and where it is kept."""

    kind: str
    is_error: bool
    stored_name: str
    resources: int


def ask(
    *, types: Sequence[str], since: datetime | None, request: str, by: Person, now: datetime
) -> BulkExport:
    """Ask for a copy of some types; the trail says who did.

    Raises TooMany when three of theirs wait already.
    """
    with transaction.atomic():
        # The lock makes two who ask at once come one after the other.
        Person.objects.select_for_update(no_key=True).get(pk=by.pk)
        if BulkExport.objects.filter(asked_by=by, state__in=WAITING).count() >= AT_ONCE:
            raise TooMany(f"{AT_ONCE} copies of yours are being made; wait for one, or cancel it.")
        export = BulkExport.objects.create(
            types=list(types),
            since=since,
            request=request[:1000],
            asked_by=by,
            asked_at=now,
            expires_at=now + KEPT_FOR,
        )
        _write_down(export, by, now, f"a copy in FHIR asked for: {', '.join(types)}")
    return export


def make_waiting(*, now: datetime) -> dict[str, int]:
    """Make every copy that waits, and go on with what a worker that died left half made.

    One that cannot be made says why, and the next ones are made all the same.
    """
    counted = {"copies made": 0, "failed": 0, "cancelled": 0}
    for export in _waiting():
        try:
            _make(export, now)
            counted["copies made"] += 1
        except jobs.LockLost:
            raise
        except Cancelled:
            counted["cancelled"] += 1
        except Exception as fault:  # noqa: BLE001 - whatever it is, the asker has to be told
            counted["failed"] += 1
            here = BulkExport.objects.filter(pk=export.pk)
            here.update(state=ExportState.FAILED, fault=jobs.words_for(fault))
        jobs.beat()
    return counted


def of_asker(*, uuid: UUID | str, by: Person) -> BulkExport | None:
    """Return the copy that a person asked for; None when it is not there (any more) or not theirs.

    One whose facts or names the person may no longer take is not there either.
    """
    export = BulkExport.objects.filter(uuid=uuid, asked_by=by).first()
    if export is None:
        return None
    seer = fhir_rows.taker(by)
    still = set(export.facts_at) <= set(seer.facts) and set(export.names_at) <= seer.names
    return export if still and seer.facts else None


def open_file(
    *, export: BulkExport, kind: str, is_error: bool, by: Person, now: datetime
) -> BinaryIO | None:
    """Open a file of a copy that is ready, and write down that it was taken; None for no such file."""
    file = BulkFile.objects.filter(
        export=export, kind=kind, is_error=is_error, export__state=ExportState.READY
    ).first()
    if file is None or not default_storage.exists(file.stored_name):
        return None
    names = "with names" if export.names_at else "by keys alone"
    _write_down(export, by, now, f"{file.resources} x {kind} taken in FHIR, {names}")
    # What stands below the storage's own wrapper reads like any file.
    return cast("BinaryIO", default_storage.open(file.stored_name).file)


def cancel(*, export: BulkExport) -> None:
    """Forget a copy with its files; a worker that makes it stops at its next step."""
    names = list(export.files.values_list("stored_name", flat=True))
    export.delete()
    _clear(export, names)


def forget_erased(*, sites: Collection[int]) -> int:
    """Delete the files of every copy that holds some of these sites; return how many were ready.

    To be called in the transaction of an erasure. Whoever asked is told to ask again; one that is just
    being made is given up. One that nobody has begun waits for the erasure's end and is made without
    the patient; one that is asked for and begun before that end is given up after it.
    """
    looked_at = BulkExport.objects.select_for_update().exclude(state=ExportState.FAILED)
    exports = list(looked_at.order_by("pk"))
    ready = _give_up(exports, sites)
    seen = [export.pk for export in exports]
    transaction.on_commit(partial(_forget_begun, seen, sites))
    return ready


@transaction.atomic
def _forget_begun(seen: Collection[int], sites: Collection[int]) -> None:
    """Give up what was asked for and begun while an erasure was not committed yet."""
    since = BulkExport.objects.select_for_update().exclude(pk__in=seen)
    _give_up(list(since.exclude(state=ExportState.FAILED).order_by("pk")), sites)


def _give_up(exports: Sequence[BulkExport], sites: Collection[int]) -> int:
    """Give up those copies that hold some of these sites; return how many were ready."""
    # What nobody has begun holds no site yet.
    with_them = [one for one in exports if set(sites) & {*one.facts_at, *one.names_at}]
    for export in with_them:
        names = list(export.files.values_list("stored_name", flat=True))
        export.files.all().delete()
        BulkExport.objects.filter(pk=export.pk).update(state=ExportState.FAILED, fault=ERASED)
        transaction.on_commit(partial(_clear, export, names))
    return sum(export.state == ExportState.READY for export in with_them)


def forget_old(*, now: datetime) -> int:
    """Forget the copies whose time is over, with their files; return how many."""
    old = list(BulkExport.objects.filter(expires_at__lt=now))
    for export in old:
        cancel(export=export)
        jobs.beat()
    retention.prove(
        kind=RetentionKind.COPIES,
        number=len(old),
        words=f"older than {KEPT_FOR.days} day, as every copy",
        now=now,
    )
    return len(old)


def _waiting() -> Iterator[BulkExport]:
    """Yield the copies that wait, the first asked first, one look at a time."""
    done: list[int] = []
    while True:
        rows = BulkExport.objects.filter(state__in=WAITING).exclude(pk__in=done)
        export = rows.select_related("asked_by").order_by("id").first()
        if export is None:
            return
        done.append(export.pk)
        yield export


def _make(export: BulkExport, now: datetime) -> None:
    seer = fhir_rows.taker(export.asked_by)
    if not seer.facts:
        raise NotAllowed("Your roles do not permit to take data any more.")
    _as_far_as(export, seer)
    _note(
        export,
        state=ExportState.BEING_MADE,
        facts_at=list(seer.facts),
        names_at=sorted(seer.names),
    )
    for kind in export.types:
        if not export.files.filter(kind=kind, is_error=False).exists():
            _keep(export, _write(export, kind, seer))
    _note(export, state=ExportState.READY, made_at=now)


def _as_far_as(export: BulkExport, seer: Seer) -> None:
    """Throw away the files of a worker that died where they reach over other sites than now.

    A copy is handed out by the sites that it says, and all of its files have to be of those.
    """
    here = (set(export.facts_at), set(export.names_at))
    if here != (set(seer.facts), set(seer.names)):
        names = list(export.files.values_list("stored_name", flat=True))
        export.files.all().delete()
        _clear(export, names)


def _write(export: BulkExport, kind: str, seer: Seer) -> list[Written]:
    """Write all resources of a type from the first on, and apart what could not be written."""
    with TemporaryFile() as good, TemporaryFile() as bad:
        counts = [0, 0]
        for chunk in _chunks(kind, seer, export.since):
            for one in chunk:
                wrong = one["resourceType"] == OUTCOME
                counts[wrong] += 1
                line = json.dumps(one, separators=(",", ":"), ensure_ascii=False)
                (bad if wrong else good).write(line.encode() + b"\n")
            # Between the chunks, so that a cancelled one is noticed and a long one shows life.
            _note(export, resources_done=sum(counts))
            jobs.beat(len(chunk))
        files = [(good, False, counts[0]), (bad, True, counts[1])]
        return [
            Written(kind, wrong, _store(export, kind, wrong, content), number)
            for content, wrong, number in files
            if number or not wrong
        ]


def _chunks(kind: str, seer: Seer, since: datetime | None) -> Iterator[list[Json]]:
    if kind == search.CODE_SYSTEM:
        yield list(code_systems())
        return
    begin = None if since is None else since - OVERLAP
    for source in KINDS[kind].sources:
        yield from search.streamed(KINDS[kind], source, seer, begin, CHUNK)


def _store(export: BulkExport, kind: str, wrong: bool, content: IO[bytes]) -> str:
    name = f"{FOLDER}/{export.uuid}/{kind}{'-errors' if wrong else ''}.ndjson"
    # What a worker that died in between has left there.
    default_storage.delete(name)
    content.seek(0)
    return default_storage.save(name, File(content))


def _keep(export: BulkExport, written: Sequence[Written]) -> None:
    with transaction.atomic():
        waiting = BulkExport.objects.select_for_update().filter(pk=export.pk, state__in=WAITING)
        if not waiting.exists():
            _clear(export, [one.stored_name for one in written])
            raise Cancelled("It was cancelled, or a patient was erased.")
        for one in written:
            BulkFile.objects.create(
                export=export,
                kind=one.kind,
                is_error=one.is_error,
                stored_name=one.stored_name,
                resources=one.resources,
            )


def _note(export: BulkExport, **values: object) -> None:
    waiting = BulkExport.objects.filter(pk=export.pk, state__in=WAITING)
    if not waiting.update(**values):
        _clear(export, [])
        raise Cancelled("It was cancelled, or a patient was erased.")


def _clear(export: BulkExport, names: Sequence[str]) -> None:
    folder = f"{FOLDER}/{export.uuid}"
    for name in names:
        default_storage.delete(name)
    if default_storage.exists(folder):
        for left in default_storage.listdir(folder)[1]:
            default_storage.delete(f"{folder}/{left}")
        default_storage.delete(folder)


def _write_down(export: BulkExport, by: Person, now: datetime, what: str) -> None:
    audit.record_taken(
        by=by, table=BulkExport._meta.db_table, row_id=str(export.pk), now=now, what=what
    )
