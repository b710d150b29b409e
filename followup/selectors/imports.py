"""Files of cases: those given before, what was found in one, and whom its people may be."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from followup.models.imports import DraftState, ImportDraft, ImportFinding, ImportPair, RowFinding
from followup.selectors.visible import visible
from registry.models.imports import ImportBatch, ImportFate, ImportRow
from registry.selectors import alike
from registry.selectors.alike import Entry
from registry.selectors.visible import Viewer

SHOWN = 20


def latest_batches(user: Viewer) -> QuerySet[ImportBatch]:
    """Return the latest files that were given at the sites where a person may import."""
    rows = visible(user, ImportBatch, "import_cases").select_related("site", "started_by")
    latest: QuerySet[ImportBatch] = rows.order_by("-started_at", "-id")[:SHOWN]
    return latest


def drafts_in_work(user: Viewer) -> QuerySet[ImportDraft]:
    """Return the files that somebody has to go on with, or that the background works on."""
    rows = visible(user, ImportDraft, "import_cases").select_related("site", "brought_by")
    open_ones: QuerySet[ImportDraft] = rows.exclude(state=DraftState.LANDED)[:SHOWN]
    return open_ones


def faults_of(draft: ImportDraft) -> QuerySet[ImportFinding]:
    """Return what is wrong with rows of a file, line by line."""
    return draft.findings.exclude(kind=RowFinding.KNOWN).order_by("line", "id")


def known_of(draft: ImportDraft) -> QuerySet[ImportFinding]:
    """Return the rows of a file that add nothing."""
    return draft.findings.filter(kind=RowFinding.KNOWN).order_by("line", "id")


def open_pairs(draft: ImportDraft) -> int:
    """Return how many pairs only a person can decide about, and nobody has."""
    return draft.pairs.filter(answer="", likely=False).count()


@dataclass(frozen=True)
class PairBeside:
    """A pair as it is laid side by side; `entry` is the patient, None where it may not be seen."""

    pair: ImportPair
    entry: Entry | None


def pairs_of(draft: ImportDraft) -> QuerySet[ImportPair]:
    """Return the pairs of a file: first those about which nobody has decided."""
    return draft.pairs.select_related("other_patient").order_by("-answer", "likely", "line", "id")


def beside(user: Viewer, pairs: Sequence[ImportPair]) -> list[PairBeside]:
    """Return pairs with what the person may see of the patients in them, in one query or two."""
    wanted = [one.other_patient_id for one in pairs if one.other_patient_id is not None]
    entries = alike.entries_of(user, wanted)
    return [PairBeside(one, entries.get(one.other_patient_id or 0)) for one in pairs]


def lines_of(batch: ImportBatch, fate: str) -> QuerySet[ImportRow]:
    """Return the lines of an import that had one fate."""
    chosen = fate if fate in ImportFate.values else ImportFate.REFUSED
    rows: Any = ImportRow.objects.filter(batch=batch, fate=chosen).order_by("line")
    found: QuerySet[ImportRow] = rows
    return found
