"""Importing a file in parts: each part and its ledger in one transaction, gone on with after a death."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction
from django.db.models import Count, F

from followup.models.imports import DraftState, ImportDraft
from followup.rules.case_facts import RowFault
from followup.services import import_checks, import_drafts, import_plans, imports
from followup.services.import_checks import Beat
from followup.services.import_plans import How, Plan, Rejected, RowReader
from followup.services.import_recorded import Recorded
from followup.services.imported_cases import Saved, Saving, saving_for
from followup.services.uploads import forget_upload, open_upload
from registry.errors import BadInput, HoldfastError, IllegalTransition
from registry.exchange import sheets
from registry.exchange.sheets import Row, Sheet
from registry.models.imports import ImportBatch, ImportFate, ImportRow, ImportState
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records

SETTLED_AT_ONCE = 200
COUNTED = {
    ImportFate.LANDED: "rows_landed",
    ImportFate.KNOWN: "rows_known",
    ImportFate.REFUSED: "rows_refused",
    ImportFate.WAITING: "rows_waiting",
}


def start(draft: ImportDraft, *, by: Person, now: datetime) -> ImportBatch:
    """Begin to import the rows of a checked file that can be used; a worker lands them.

    Rows that only a person can decide about are left waiting. Raises BadInput where there is nothing
    to add, IllegalTransition where the file is not ready for it.
    """
    if draft.state != DraftState.CHECKED:
        raise _not_ready(draft.get_state_display().lower())
    if not draft.rows_good:
        raise BadInput("There is no row in this file that could be added.")
    with open_upload(draft) as source:
        content_hash = imports.content_hash(source)
        sheet = sheets.read(source, import_checks.how_of(draft, now.date(), {}).written)
    how = imports.told_of(import_plans.translation_of(sheet, _how(draft, now.date())), draft.notes)
    with records.change(by=by, reason=f"import of {draft.file_name} begun"):
        taken = ImportDraft.objects.filter(pk=draft.pk, state=DraftState.CHECKED).update(
            state=DraftState.LANDING, rows_done=0, settled_line=0
        )
        if not taken:
            raise _not_ready("begun by somebody else")
        draft.batch = ImportBatch.objects.create(
            site=draft.site,
            file_name=draft.file_name[-200:],
            content_hash=content_hash,
            started_at=now,
            started_by=by,
            state=ImportState.RUNNING,
            rows_read=draft.rows,
            rows_landed=0,
            rows_known=0,
            rows_refused=0,
            how=how,
        )
        ImportDraft.objects.filter(pk=draft.pk).update(batch=draft.batch)
    draft.state, draft.rows_done, draft.settled_line = DraftState.LANDING, 0, 0
    return draft.batch


def go_on(draft: ImportDraft, *, by: Person) -> None:
    """Look at the rows again that were left waiting, after somebody has decided about them."""
    if draft.state != DraftState.LANDED or draft.batch is None:
        raise _not_ready(draft.get_state_display().lower())
    with records.change(by=by, reason=f"import of {draft.file_name} gone on with"):
        waiting = ImportRow.objects.filter(batch=draft.batch, fate=ImportFate.WAITING)
        waited = list(waiting.order_by("line").values_list("line", flat=True))
        standing = ImportDraft.objects.filter(pk=draft.pk, state=DraftState.LANDED)
        ended = ImportBatch.objects.filter(pk=draft.batch.pk, state=ImportState.PARTIAL)
        if not standing.update(
            state=DraftState.LANDING, rows_done=0, settled_line=0, waited=waited
        ) or not ended.update(state=ImportState.RUNNING, ended_at=None):
            raise _not_ready("gone on with, or taken back, by somebody else")
    draft.state, draft.rows_done, draft.settled_line = DraftState.LANDING, 0, 0
    draft.waited = waited


def resume(draft: ImportDraft) -> None:
    """Let an import be gone on with where a fault stopped it; what has landed is not landed again.

    Raises IllegalTransition where no fault stopped it, or it was taken back meanwhile.
    """
    with transaction.atomic():
        held = ImportDraft.objects.select_for_update().filter(pk=draft.pk)
        stopped = held.filter(state=DraftState.LANDING).exclude(fault="").first()
        running = ImportBatch.objects.filter(draft=draft, state=ImportState.RUNNING)
        if stopped is None or not running.exists():
            raise import_drafts.gone_on(draft, "gone on with")
        held.update(fault="")
    draft.fault = ""


def land(draft: ImportDraft, *, today: date, now: datetime, beat: Beat) -> None:
    """Land the rows of a file that are not landed yet, part by part, and settle what follows.

    Every part is one transaction with its lines of the ledger: whoever dies in the middle has landed
    whole parts, and whoever comes next goes on behind them. Raises BadInput where the file cannot be
    read any more.
    """
    batch = _batch(draft)
    how = _how(draft, today)
    why = f"imported from {batch.file_name}"
    with records.change(by=batch.started_by, reason=why):
        given = saving_for(draft.site, by=batch.started_by, now=batch.started_at, today=today)
    with open_upload(draft) as source:
        sheet = sheets.read(source, how.written)
        reader = import_checks.reader_of(draft, sheet, how)
        for rows in import_checks.chunks(sheet):
            part = _Part(draft, batch, sheet, reader, how, given)
            with records.change(by=batch.started_by, reason=why):
                beat()
                # Two imports at once would not see each other's rows.
                Site.objects.select_for_update(no_key=True).get(pk=draft.site_id)
                part.land(rows)
    _settle(draft, batch, given, beat)
    _finish(draft, batch, now)


def _not_ready(present: str) -> IllegalTransition:
    return IllegalTransition("The file", present=present, wanted="being imported")


def _how(draft: ImportDraft, today: date) -> How:
    return import_checks.how_of(draft, today, import_checks.answers_of(draft))


def _batch(draft: ImportDraft) -> ImportBatch:
    if draft.batch is None:
        raise BadInput("This file was not begun to be imported.")
    return draft.batch


@dataclass
class _Part:
    """Some rows of a file, landed together."""

    draft: ImportDraft
    batch: ImportBatch
    sheet: Sheet
    reader: RowReader
    how: How
    given: Saving
    counts: dict[str, int] = field(default_factory=dict)

    def land(self, rows: Sequence[Row]) -> None:
        """Save what can be saved and write down what became of each row."""
        waiting = dict(self._in_ledger(rows, ImportFate.WAITING))
        settled = {line for line, _ in self._in_ledger(rows)} - waiting.keys()
        to_do = [row for row in rows if row.line not in settled]
        plan, saved = self._weigh(to_do), dict[int, Saved]()
        self.given.patients.clear()
        done = imports.save_rows(plan.good, self.reader, self.given)
        for planned, found in zip(plan.good, done, strict=True):
            if isinstance(found, Rejected):
                plan.rejected.append(found)
            else:
                saved[planned.row.line] = found
        lines = imports.ledger(
            self.batch, plan.good, saved, plan.known, plan.rejected, self.reader.translation
        )
        self._write(lines, waiting)
        asks = [one for rejected in plan.rejected for one in rejected.asks]
        import_checks.keep_asked(self.draft, asks, self.how.answers)
        ImportDraft.objects.filter(pk=self.draft.pk).update(rows_done=F("rows_done") + len(rows))

    def _in_ledger(self, rows: Sequence[Row], *fates: str) -> Iterable[tuple[int, int]]:
        if not rows:
            return ()
        found = ImportRow.objects.filter(
            batch=self.batch, line__gte=rows[0].line, line__lte=rows[-1].line
        )
        if fates:
            found = found.filter(fate__in=fates)
        return found.values_list("line", "pk")

    def _weigh(self, rows: Sequence[Row]) -> Plan:
        """Weigh rows afresh; what the check refused, for a line far above perhaps, stays refused."""
        plan = Plan(self.sheet)
        refused = import_checks.lines_rejected(self.draft, rows)
        for row in rows:
            if row.line in refused:
                faults = tuple(
                    RowFault(row.line, one.column, one.value, one.reason)
                    for one in refused[row.line]
                )
                plan.rejected.append(Rejected(row, faults, self.reader.fingerprint(row)))
        recorded = Recorded(self.draft.site, answers=self.how.answers, batch=self.batch)
        left = [row for row in rows if row.line not in refused]
        import_plans.weigh(plan, left, self.reader, recorded)
        return plan

    def _write(self, lines: Sequence[ImportRow], waiting: dict[int, int]) -> None:
        again = [line for line in lines if line.line in waiting]
        moved = [line for line in again if line.fate != ImportFate.WAITING]
        new = [line for line in lines if line.line not in waiting]
        for line in moved:
            line.pk = waiting[line.line]
        ImportRow.objects.bulk_create(new, batch_size=500)
        if moved:
            ImportRow.objects.bulk_update(
                moved, ["fate", "procedure", "enrolled", "number", "reason", "ended_as", "ended_on"]
            )
        counted: dict[str, int] = {}
        for line in (*new, *moved):
            name = COUNTED[ImportFate(line.fate)]
            counted[name] = counted.get(name, 0) + 1
        if moved:
            counted["rows_waiting"] = counted.get("rows_waiting", 0) - len(moved)
        if counted:
            ImportBatch.objects.filter(pk=self.batch.pk).update(
                **{name: F(name) + number for name, number in counted.items()}
            )


def _settle(draft: ImportDraft, batch: ImportBatch, given: Saving, beat: Beat) -> None:
    """Record who died or left, then let lapse what closed: once all that happened is there."""
    landed = ImportRow.objects.filter(batch=batch, fate=ImportFate.LANDED)
    if draft.waited:
        # The rows before were settled once; what a person corrected since is not undone.
        landed = landed.filter(line__in=draft.waited)
    why = f"imported from {batch.file_name}"
    ended = landed.exclude(ended_as="").order_by("line")
    for line, patient, status, on in list(
        ended.values_list("line", "procedure__injury__patient", "ended_as", "ended_on")
    ):
        with records.change(by=batch.started_by, reason=why):
            beat()
            _end(batch, line, patient, status, on, given)
    while True:
        after = ImportDraft.objects.values_list("settled_line", flat=True).get(pk=draft.pk)
        rows = list(
            landed.filter(line__gt=after)
            .order_by("line")
            .values_list("line", "procedure__injury_id")[:SETTLED_AT_ONCE]
        )
        if not rows:
            return
        with records.change(by=batch.started_by, reason=why):
            beat()
            imports.lapse([injury for _, injury in rows], given)
            ImportDraft.objects.filter(pk=draft.pk).update(settled_line=rows[-1][0])


def _end(
    batch: ImportBatch, line: int, patient: int, status: str, on: date | None, given: Saving
) -> None:
    """Record how follow-up ended; where that cannot be, the receipt says so at the row.

    What was so before the import is not the row's to take back.
    """
    row = ImportRow.objects.filter(batch=batch, line=line)
    try:
        if not imports.end_follow_up(patient, status, on, given):
            row.update(ended_as="", ended_on=None)
    except HoldfastError as fault:
        row.update(
            ended_as="", ended_on=None, reason=f"added, but not how follow-up ended: {fault}"
        )


def _finish(draft: ImportDraft, batch: ImportBatch, now: datetime) -> None:
    """Close the account; the database holds it to the rows that were counted when it was read."""
    counts = dict(ImportRow.objects.filter(batch=batch).values_list("fate").annotate(Count("pk")))
    by_column = {COUNTED[ImportFate(fate)]: number for fate, number in counts.items()}
    whole = not by_column.get("rows_refused") and not by_column.get("rows_waiting")
    state = ImportState.DONE if whole else ImportState.PARTIAL
    with records.change(by=batch.started_by, reason=f"import of {batch.file_name} ended"):
        ImportBatch.objects.filter(pk=batch.pk).update(
            state=state,
            ended_at=now,
            **{name: by_column.get(name, 0) for name in COUNTED.values()},
        )
        ImportDraft.objects.filter(pk=draft.pk).update(state=DraftState.LANDED)
    draft.state = DraftState.LANDED
    if whole:
        forget_upload(draft)
