"""What must hold of files of cases on their way in: whoever begins an import ends it."""

from collections.abc import Iterator
from datetime import timedelta

from django.db.models import Exists, F, OuterRef, Q

from followup.models.imports import DraftState, ImportDraft
from registry.models.imports import ImportBatch, ImportRow, ImportState
from registry.services.invariants import Breach, Invariant, Looking, broken_by

LET_GO_WITHIN = timedelta(days=1)


def _drafts(looking: Looking) -> Iterator[Breach]:
    drafts = ImportDraft.objects.all()
    landing = drafts.filter(state=DraftState.LANDING)
    yield from broken_by(
        landing.filter(Q(batch__isnull=True) | ~Q(batch__state=ImportState.RUNNING)),
        "it is being imported, and its account is not open",
    )
    yield from broken_by(
        drafts.filter(state=DraftState.LANDED, batch__state=ImportState.RUNNING),
        "it is imported, and its account was never closed",
    )
    yield from broken_by(
        drafts.filter(held_until__lt=looking.now - LET_GO_WITHIN).exclude(holder=""),
        "it has been held for more than a day by a worker that is silent",
    )
    yield from broken_by(
        drafts.filter(rows_done__gt=F("rows")), "more of its rows are done than it has"
    )
    nobody = ~Exists(landing.filter(batch=OuterRef("pk")))
    yield from broken_by(
        ImportBatch.objects.filter(nobody, state=ImportState.RUNNING),
        "it was begun, and there is no file with which to end it",
    )


def _half_landed(looking: Looking) -> Iterator[Breach]:
    """A part and its ledger are one transaction, so that a counted row never lies ahead of it."""
    ended = ImportDraft.objects.filter(state=DraftState.LANDED).exclude(
        batch__state=ImportState.UNDONE
    )
    lines = ImportRow.objects.filter(batch=OuterRef("batch"))
    yield from broken_by(
        ended.filter(~Exists(lines), rows__gt=0),
        "it is imported, and the ledger has none of its rows",
    )
    yield from broken_by(
        ended.exclude(rows=F("batch__rows_read")),
        "its account was opened for other rows than it has",
    )


INVARIANTS = (
    Invariant("import_drafts", "A file that was begun is gone on with, and let go.", _drafts),
    Invariant("import_parts", "A file that landed has all its rows in the ledger.", _half_landed),
)
