"""What people decide about those who may be the same, and how a file is gone on with after it."""

from collections.abc import Mapping
from datetime import datetime

from followup.models.imports import DraftState, ImportDraft, PairAnswer
from followup.services import import_drafts, import_runs
from registry.models.imports import ImportBatch
from registry.models.people import Person

ANSWERS = (PairAnswer.SAME, PairAnswer.OTHER)


def answer(draft: ImportDraft, *, answers: Mapping[int, str], by: Person, now: datetime) -> int:
    """Keep what was decided, pair by pair; return how many decisions are new.

    What is no answer leaves its pair open; what landed by a decision is not touched by another one.
    """
    said = 0
    for pair in draft.pairs.filter(pk__in=answers):
        given = answers[pair.pk]
        if given in ANSWERS and given != pair.answer:
            pair.answer, pair.answered_by, pair.answered_at = given, by, now
            pair.save(update_fields=["answer", "answered_by", "answered_at"])
            said += 1
    return said


def use_answers(draft: ImportDraft, *, by: Person) -> None:
    """Check the file again with what was decided, or go on with it where it was imported.

    Raises IllegalTransition where somebody began to import it meanwhile; what was decided is kept.
    """
    if draft.state == DraftState.CHECKED:
        standing = ImportDraft.objects.filter(
            pk=draft.pk, state=DraftState.CHECKED, batch__isnull=True
        )
        if not standing.update(state=DraftState.CHECKING, rows_done=0):
            raise import_drafts.gone_on(draft, "checked again")
        draft.state, draft.rows_done = DraftState.CHECKING, 0
    elif draft.state == DraftState.LANDED and _all_decided(draft):
        import_runs.go_on(draft, by=by)


def _all_decided(draft: ImportDraft) -> bool:
    waits = ImportBatch.objects.filter(draft=draft, rows_waiting__gt=0).exists()
    return waits and not draft.pairs.filter(answer=PairAnswer.OPEN, likely=False).exists()
