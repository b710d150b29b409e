"""What must hold of the background's work and of what was imported."""

from collections.abc import Iterator
from datetime import timedelta

from django.db.models import Count, F, Q

from registry.models.imports import ImportBatch, ImportFate, ImportRow, ImportState
from registry.models.jobs import JobLock, JobOutcome, JobRun
from registry.services.invariants import AT_ONCE, Breach, Invariant, Looking, broken_by

# Every job is tried within a day, and buries what it finds dead.
BURIED_WITHIN = timedelta(hours=25)
COLUMNS = {
    ImportFate.LANDED: "rows_landed",
    ImportFate.KNOWN: "rows_known",
    ImportFate.REFUSED: "rows_refused",
    ImportFate.WAITING: "rows_waiting",
}


def _jobs(looking: Looking) -> Iterator[Breach]:
    before = looking.now - BURIED_WITHIN
    running = JobRun.objects.filter(outcome=JobOutcome.RUNNING, beat_at__lt=before)
    yield from broken_by(running, "it is under way and has been silent for more than a day")
    held = JobLock.objects.filter(~Q(holder=""))
    yield from broken_by(
        held.filter(Q(until__isnull=True) | Q(until__lt=before)),
        "it is held by a run that is silent for more than a day",
    )


def _ledgers(looking: Looking) -> Iterator[Breach]:
    counts = {
        f"found_{name}": Count("rows", filter=Q(rows__fate=fate)) for fate, name in COLUMNS.items()
    }
    batches = ImportBatch.objects.annotate(**counts).order_by("pk")
    for batch in batches.iterator(chunk_size=AT_ONCE):
        where = f"{ImportBatch._meta.db_table} {batch.pk}"
        for fate, name in COLUMNS.items():
            # Of one that was stopped, the lines that it never came to are counted as waiting.
            if fate == ImportFate.WAITING and batch.state == ImportState.UNDONE:
                continue
            told, found = getattr(batch, name), getattr(batch, f"found_{name}")
            if fate == ImportFate.WAITING:
                # Nor has one whose file went before it came to its end.
                found += batch.how.get("never_come_to", 0)
            if told != found:
                yield Breach(where, f"it says {told} {name.replace('_', ' ')}, its rows {found}")
        settled = sum(getattr(batch, name) for name in COLUMNS.values())
        ended = batch.state not in (ImportState.REFUSED, ImportState.RUNNING)
        if settled > batch.rows_read or (ended and settled != batch.rows_read):
            yield Breach(where, f"{batch.rows_read} rows were read and {settled} are accounted for")


def _landed_once(looking: Looking) -> Iterator[Breach]:
    landed = ImportRow.objects.filter(fate=ImportFate.LANDED).exclude(
        batch__state=ImportState.UNDONE
    )
    elsewhere = landed.exclude(procedure__site=F("batch__site"))
    yield from broken_by(elsewhere, "what it landed is of another site than its file")
    twice = landed.order_by().values("procedure").annotate(lines=Count("pk")).filter(lines__gt=1)
    for row in twice.iterator(chunk_size=AT_ONCE):
        where = f"registry_procedure {row['procedure']}"
        yield Breach(where, f"{row['lines']} lines say that they landed it")
    standing = landed.filter(procedure__voided_at__isnull=True).order_by()
    same = standing.values("batch__site", "fingerprint").annotate(lines=Count("pk"))
    for one in same.filter(lines__gt=1).iterator(chunk_size=AT_ONCE):
        where = f"fingerprint {one['fingerprint'][:12]}"
        yield Breach(where, f"the same row landed {one['lines']} times at one site")


INVARIANTS = (
    Invariant("jobs", "No job is held, or said to run, by something that is dead.", _jobs),
    Invariant("import_ledgers", "Rows read are landed, known, refused or waiting.", _ledgers),
    Invariant("import_rows", "A row of a file landed once, at the site of the file.", _landed_once),
)
