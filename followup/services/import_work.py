"""Who works on which file: one at a time, each for a lease that is renewed with every part."""

import logging
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from uuid import uuid4

from django.db.models import Q

from followup.models.imports import AT_WORK, DraftState, ImportDraft
from followup.services import import_checks, import_drafts, import_runs
from registry.errors import HoldfastError
from registry.services import jobs

# Many times what a part takes; a file whose worker died is taken up again after it.
LEASE = timedelta(minutes=2)
LOG = logging.getLogger(__name__)


class TakenOver(HoldfastError):
    """Somebody else works on this file now, since this one had shown no life for its lease."""


def work_waiting(*, now: datetime, today: date) -> dict[str, int]:
    """Go on with every file that waits for it, the oldest first; return how many."""
    done = 0
    waiting = ImportDraft.objects.filter(state__in=AT_WORK, fault="").order_by("brought_at", "pk")
    for draft in waiting.select_related("site", "batch__started_by"):
        try:
            done += work(draft, now=now, today=today)
        except TakenOver:
            # Whoever has it goes on with it; the other files still wait for this worker.
            LOG.warning("import %s was taken over by another worker", draft.pk)
    return {"files worked on": done}


def work(draft: ImportDraft, *, now: datetime, today: date) -> bool:
    """Read, check or land a file as far as it goes without a person; say whether it was free.

    What cannot be read is kept as the file's fault, in words; so is whatever else goes wrong, since it
    must not keep the files behind it waiting. Raises TakenOver, or LockLost, for what another does now.
    """
    hold = _Hold(draft, now)
    if not hold.take():
        return False
    try:
        while draft.at_work:
            _STEPS[DraftState(draft.state)](draft, hold, today)
    except (TakenOver, jobs.LockLost):
        raise
    except HoldfastError as fault:
        _keep_fault(draft, str(fault))
    except Exception as fault:
        LOG.exception("work on import %s failed", draft.pk)
        _keep_fault(
            draft,
            f"The program could not go on with this file ({jobs.words_for(fault)}). Tell who runs the "
            "service; the other files go on.",
        )
    finally:
        hold.release()
    return True


def _keep_fault(draft: ImportDraft, said: str) -> None:
    draft.fault = said[:600]
    ImportDraft.objects.filter(pk=draft.pk).update(fault=draft.fault)


class _Hold:
    """A claim on one file; its clock is the moment that it was given and what has passed since."""

    def __init__(self, draft: ImportDraft, now: datetime) -> None:
        self.draft, self.began, self.now = draft, time.monotonic(), now
        self.holder = uuid4().hex

    def moment(self) -> datetime:
        return self.now + timedelta(seconds=time.monotonic() - self.began)

    def take(self) -> bool:
        free = ImportDraft.objects.filter(
            Q(holder="") | Q(held_until__lt=self.now), pk=self.draft.pk
        )
        if not free.update(holder=self.holder, held_until=self.now + LEASE):
            return False
        self.draft.refresh_from_db()
        return True

    def beat(self) -> None:
        """Renew the claim, within the transaction of a part: who has lost it lands nothing."""
        jobs.beat()
        mine = ImportDraft.objects.filter(pk=self.draft.pk, holder=self.holder)
        if not mine.update(held_until=self.moment() + LEASE):
            raise TakenOver("This file was taken over by another worker.")

    def release(self) -> None:
        mine = ImportDraft.objects.filter(pk=self.draft.pk, holder=self.holder)
        mine.update(holder="", held_until=None)
        self.draft.holder, self.draft.held_until = "", None


def _read(draft: ImportDraft, hold: _Hold, today: date) -> None:
    def beat(rows: int) -> None:
        hold.beat()
        ImportDraft.objects.filter(pk=draft.pk).update(rows_done=rows)

    import_drafts.look_through(draft, beat)


def _check(draft: ImportDraft, hold: _Hold, today: date) -> None:
    import_checks.check(draft, today=today, beat=hold.beat)


def _land(draft: ImportDraft, hold: _Hold, today: date) -> None:
    import_runs.land(draft, today=today, now=hold.moment(), beat=hold.beat)


_STEPS: dict[DraftState, Callable[[ImportDraft, _Hold, date], None]] = {
    DraftState.READING: _read,
    DraftState.CHECKING: _check,
    DraftState.LANDING: _land,
}
