"""Importing a file of cases: whole or not at all, or its good rows; what is known is not added again."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import Any, BinaryIO, TextIO

from django.db import DatabaseError, OperationalError, transaction

from followup.rules.case_columns.catalogue import BY_GROUP
from followup.rules.case_facts import RowFault
from followup.rules.case_translation import Translation
from followup.services import import_plans, reviews
from followup.services.import_plans import How, Known, Plan, Planned, Rejected, RowReader
from followup.services.import_recorded import ASKED_AT_ONCE
from followup.services.imported_cases import RowRefused, Saved, Saving, save_case, saving_for
from registry.exchange import sheets
from registry.models.imports import ImportBatch, ImportFate, ImportRow, ImportState
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import gathering, patients, records

SAVED_TOGETHER = 200
FROM_FILE = "from an imported file"
BLOCK = 1 << 16
NAMING = frozenset(column.name for column in BY_GROUP["person"])


@dataclass(frozen=True)
class ImportResult:
    """What became of a file, or would become of it where it was only checked.

    `usable` rows can be added, `added` were; `refused` says that faults keep everything out. `faults`
    are all that is wrong, with the header as line 1; `rejected` are the rows that they belong to.
    """

    rows_read: int
    usable: int
    added: int
    refused: bool
    known: tuple[Known, ...]
    faults: tuple[RowFault, ...]
    rejected: tuple[Rejected, ...]
    header: tuple[str, ...]
    notes: tuple[str, ...]


class _Refused(Exception):
    """Undoes an import that was to be whole."""


def check_cases(*, source: BinaryIO, site: Site, how: How, keep_good: bool = False) -> ImportResult:
    """Say what importing a file would do; nothing is written.

    Raises BadInput for what is not a table of rows, or holds more than may be.
    """
    plan = import_plans.plan(source, site, how)
    kept_out = plan.has_faults and not (keep_good and plan.good)
    return _result(plan, added=0, refused=kept_out)


def import_cases(
    *,
    source: BinaryIO,
    file_name: str,
    site: Site,
    how: How,
    keep_good: bool = False,
    by: Person,
    now: datetime,
) -> ImportResult:
    """Import a file of cases in one transaction: the whole of it, or with `keep_good` its good rows.

    A row that the site has already adds nothing. What became of the file and of each row is kept.
    For files that fit into one transaction; longer ones go in parts (`import_runs`). Raises BadInput
    for what is not a table of rows, or holds more than may be.
    """
    batch = ImportBatch(
        site=site,
        file_name=file_name[-200:],
        content_hash=content_hash(source),
        started_at=now,
        started_by=by,
        ended_at=now,
    )
    saved: dict[int, Saved] = {}
    try:
        with records.change(by=by, reason=f"imported from {file_name}"):
            # Two imports at once would not see each other's rows.
            Site.objects.select_for_update(no_key=True).get(pk=site.pk)
            plan = import_plans.plan(source, site, how)
            translation = import_plans.translation_of(plan.sheet, how)
            if not plan.header_faults and (keep_good or not plan.rejected):
                given = saving_for(site, by=by, now=now, today=how.today)
                reader = RowReader(plan.sheet, site, how.today, translation)
                saved = _save_all(plan, reader, given, how)
            if plan.rejected and not keep_good:
                raise _Refused
            _keep_account(batch, plan, saved, translation)
    except _Refused:
        saved = {}
        with records.change(by=by, reason=f"refused {file_name}"):
            _keep_account(batch, plan, saved, translation)
    return _result(plan, added=len(saved), refused=plan.has_faults and not saved)


def write_rejected(target: TextIO, result: ImportResult) -> int:
    """Write the rejected rows out unchanged, each with its reason; return how many."""
    rows = ((one.row, one.reason) for one in result.rejected)
    return sheets.write_rejected(target, result.header, rows)


def _save_all(plan: Plan, reader: RowReader, given: Saving, how: How) -> dict[int, Saved]:
    """Save every good row; what a service refuses joins the rejected ones. Return what was by line."""
    done: dict[int, Saved] = {}
    kept: list[tuple[Planned, Saved]] = []
    for start in range(0, len(plan.good), SAVED_TOGETHER):
        part = plan.good[start : start + SAVED_TOGETHER]
        for planned, found in zip(part, save_rows(part, reader, given), strict=True):
            if isinstance(found, Rejected):
                plan.rejected.append(found)
            else:
                done[planned.row.line] = found
                kept.append((planned, found))
        if how.progress is not None:
            how.progress("Saving", start + len(part), len(plan.good))
    for planned, found in kept:
        case = planned.case
        ended = end_follow_up(found.patient.pk, case.status, case.status_on, given)
        done[case.line] = replace(found, ended=ended)
    lapse([found.index.injury_id for _, found in kept], given)
    plan.rejected.sort(key=lambda one: one.row.line)
    return done


def save_rows(rows: Sequence[Planned], reader: RowReader, given: Saving) -> list[Saved | Rejected]:
    """Save some rows; return, in their order, what each added, or why it was refused.

    They are written together where nothing is refused. Otherwise those around the refused one are,
    and it is saved by itself, which says why. The caller gives the transaction.
    """
    if len(rows) <= 1:
        return [save_row(one, reader, given) for one in rows]
    before, done = dict(given.patients), list[Saved | Rejected]()
    try:
        with transaction.atomic(), gathering.together():
            for planned in rows:
                done.append(save_case(planned.case, planned.who, given))
    except OperationalError:
        # The database is gone or locked: one by one they would fare no better.
        raise
    except (RowRefused, DatabaseError):
        given.patients.clear()
        given.patients.update(before)
        # What was refused in the writing may stand anywhere.
        place = len(done) if len(done) < len(rows) else len(rows) // 2
        parts = rows[:place], rows[place : place + 1], rows[place + 1 :]
        return [one for part in parts for one in save_rows(part, reader, given)]
    return done


def save_row(planned: Planned, reader: RowReader, given: Saving) -> Saved | Rejected:
    """Save one row in a transaction of its own; return what it added, or why it was refused."""
    try:
        with transaction.atomic():
            return save_case(planned.case, planned.who, given)
    except RowRefused as refused:
        line = planned.row.line
        faults = [RowFault(line, column, "", reason) for column, reason in refused.reasons]
        return reader.rejected(planned.row, faults)


def lapse(injuries: Sequence[int], given: Saving) -> None:
    """Let the reviews of some injuries whose windows have closed lapse."""
    for start in range(0, len(injuries), ASKED_AT_ONCE):
        some = injuries[start : start + ASKED_AT_ONCE]
        try:
            with transaction.atomic(), gathering.together():
                reviews.lapse_closed(**given.act, injuries=some)
        except gathering.NotTogether:
            # Somebody changes one of them at this moment.
            reviews.lapse_closed(**given.act, injuries=some)


def end_follow_up(patient_id: int, status: str, on: date | None, given: Saving) -> bool:
    """Record that a patient died, withdrew or moved away, once all that happened before is there.

    Say whether it is this import that ended it: what was so before stays when it is taken back.
    """
    if status == PatientStatus.ACTIVE:
        return False
    patient = Patient.objects.get(pk=patient_id)
    if patient.status == status:
        return (patient.changed_at, patient.changed_by_id) == (given.now, given.by.pk)
    patients.change_status(
        patient=patient,
        status=status,
        on=on,
        note=FROM_FILE,
        expected_version=patient.version,
        **given.act,
    )
    return True


def _result(plan: Plan, *, added: int, refused: bool) -> ImportResult:
    return ImportResult(
        rows_read=plan.rows_read,
        usable=len(plan.good),
        added=added,
        refused=refused,
        known=tuple(plan.known),
        faults=(*plan.header_faults, *(fault for one in plan.rejected for fault in one.faults)),
        rejected=tuple(plan.rejected),
        header=plan.sheet.header,
        notes=plan.sheet.notes,
    )


def _keep_account(
    batch: ImportBatch, plan: Plan, saved: Mapping[int, Saved], translation: Translation
) -> None:
    """Write down what became of the file and of each row; a refused file has landed nothing."""
    batch.state = (
        ImportState.REFUSED
        if plan.has_faults and not saved
        else ImportState.PARTIAL
        if plan.rejected
        else ImportState.DONE
    )
    batch.how = told_of(translation, plan.sheet.notes)
    batch.rows_read = plan.rows_read
    batch.rows_landed = len(saved)
    batch.rows_known = len(plan.known)
    batch.rows_waiting = sum(1 for one in plan.rejected if one.asks)
    batch.rows_refused = len(plan.rejected) - batch.rows_waiting
    batch.save()
    ImportRow.objects.bulk_create(
        ledger(batch, plan.good, saved, plan.known, plan.rejected, translation), batch_size=500
    )


def ledger(
    batch: ImportBatch,
    good: Sequence[Planned],
    saved: Mapping[int, Saved],
    known: Sequence[Known],
    rejected: Sequence[Rejected],
    translation: Translation,
) -> list[ImportRow]:
    """Return the rows of the ledger: what became of each line."""
    return [
        *(
            ImportRow(
                batch=batch,
                line=one.row.line,
                fingerprint=one.case.fingerprint,
                fate=ImportFate.LANDED,
                procedure_id=saved[one.row.line].index.pk,
                enrolled=saved[one.row.line].enrolled,
                number_id=saved[one.row.line].number,
                **_ending(one, saved[one.row.line]),
            )
            for one in good
            if one.row.line in saved
        ),
        *(
            ImportRow(
                batch=batch,
                line=one.line,
                fingerprint=one.fingerprint,
                fate=ImportFate.KNOWN,
                reason=one.why,
            )
            for one in known
        ),
        *(
            ImportRow(
                batch=batch,
                line=one.row.line,
                fingerprint=one.fingerprint,
                fate=ImportFate.WAITING if one.asks else ImportFate.REFUSED,
                reason=_kept_reason(one, translation),
            )
            for one in rejected
        ),
    ]


def _ending(planned: Planned, saved: Saved) -> dict[str, Any]:
    case = planned.case
    if case.status == PatientStatus.ACTIVE or not saved.ended:
        return {}
    return {"ended_as": case.status, "ended_on": case.status_on}


def told_of(translation: Translation, notes: Sequence[str]) -> dict[str, object]:
    """Return what the receipt says of how a file was read: uses, columns left out, and notes."""
    return {
        "columns": {use.header: use.column for use in translation.used()},
        "left_out": list(translation.left_out),
        "same_for_all": dict(translation.same_for_all),
        "notes": list(notes),
    }


def _kept_reason(one: Rejected, translation: Translation) -> str:
    """Return the reason without what the row says of names and birth: this is no place for them."""
    naming = {translation.header_of.get(name, name) for name in NAMING}
    return "; ".join(
        f"{fault.column}: cannot be used"
        if fault.column in naming
        else str(fault.column and f"{fault.column}: ") + fault.reason
        for fault in one.faults
    )


def content_hash(source: BinaryIO) -> str:
    """Return the SHA-256 of a file's content, in hexadecimal."""
    source.seek(0)
    found = hashlib.sha256()
    for block in iter(partial(source.read, BLOCK), b""):
        found.update(block)
    return found.hexdigest()
