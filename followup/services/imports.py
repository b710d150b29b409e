"""Importing a file of cases: whole or not at all, or its good rows; what is known is not added again."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import BinaryIO, TextIO

from django.db import transaction

from followup.rules.case_columns.catalogue import BY_GROUP
from followup.rules.case_facts import RowFault
from followup.rules.case_rows import fingerprint
from followup.services import import_plans, reviews
from followup.services.import_plans import Known, Plan, Planned, Progress, Rejected
from followup.services.imported_cases import RowRefused, Saving, save_case, saving_for
from registry.exchange import sheets
from registry.models.imports import ImportBatch, ImportRow, ImportState
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import patients, records

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


def check_cases(
    *,
    source: BinaryIO,
    site: Site,
    today: date,
    keep_good: bool = False,
    day_first: bool = False,
    most_rows: int | None = None,
    progress: Progress | None = None,
) -> ImportResult:
    """Say what importing a file would do; nothing is written.

    Raises BadInput for what is not a table of rows, or holds more than `most_rows` of them.
    """
    how = import_plans.How(today, day_first, most_rows, progress)
    plan = import_plans.plan(source, site, how)
    kept_out = plan.has_faults and not (keep_good and plan.good)
    return _result(plan, added=0, refused=kept_out)


def import_cases(
    *,
    source: BinaryIO,
    file_name: str,
    site: Site,
    keep_good: bool = False,
    day_first: bool = False,
    most_rows: int | None = None,
    by: Person,
    now: datetime,
    today: date,
    progress: Progress | None = None,
) -> ImportResult:
    """Import a file of cases in one transaction: the whole of it, or with `keep_good` its good rows.

    A row that the site has already adds nothing. What became of the file and of each row is kept.
    Raises BadInput for what is not a table of rows, or holds more than `most_rows` of them.
    """
    batch = ImportBatch(
        site=site,
        file_name=file_name[-200:],
        content_hash=_hash(source),
        started_at=now,
        started_by=by,
    )
    how = import_plans.How(today, day_first, most_rows, progress)
    landed: dict[int, int] = {}
    try:
        with records.change(by=by, reason=f"imported from {file_name}"):
            # Two imports at once would not see each other's rows.
            Site.objects.select_for_update().get(pk=site.pk)
            plan = import_plans.plan(source, site, how)
            if not plan.header_faults and (keep_good or not plan.rejected):
                given = saving_for(site, by=by, now=now, today=today)
                landed = _save_all(plan, given, progress)
            if plan.rejected and not keep_good:
                raise _Refused
            _keep_account(batch, plan, landed)
    except _Refused:
        landed = {}
        with records.change(by=by, reason=f"refused {file_name}"):
            _keep_account(batch, plan, landed)
    return _result(plan, added=len(landed), refused=plan.has_faults and not landed)


def write_rejected(target: TextIO, result: ImportResult) -> int:
    """Write the rejected rows out unchanged, each with its reason; return how many."""
    rows = ((one.row, one.reason) for one in result.rejected)
    return sheets.write_rejected(target, result.header, rows)


def _save_all(plan: Plan, given: Saving, progress: Progress | None) -> dict[int, int]:
    """Save every good row; what a service refuses joins the rejected ones. Return keys by line."""
    landed: dict[int, int] = {}
    injuries: list[int] = []
    saved: list[Planned] = []
    total = len(plan.good)
    for done, planned in enumerate(plan.good, start=1):
        try:
            with transaction.atomic():
                index = save_case(planned.case, planned.patient, given)
        except RowRefused as refused:
            plan.rejected.append(_rejected(planned, refused, plan))
        else:
            landed[planned.row.line] = index.pk
            injuries.append(index.injury_id)
            saved.append(planned)
        if progress is not None:
            progress("Saving", done, total)
    _end_follow_up(saved, given)
    for start in range(0, len(injuries), import_plans.ASKED_AT_ONCE):
        reviews.lapse_closed(
            **given.act, injuries=injuries[start : start + import_plans.ASKED_AT_ONCE]
        )
    plan.rejected.sort(key=lambda one: one.row.line)
    return landed


def _end_follow_up(saved: Sequence[Planned], given: Saving) -> None:
    """Record who died, withdrew or moved away, once all that happened before is there."""
    for planned in saved:
        case = planned.case
        patient = planned.patient or given.patients[case.person.local_id]
        if case.status == PatientStatus.ACTIVE or patient.status == case.status:
            continue
        patients.change_status(
            patient=patient,
            status=case.status,
            on=case.status_on,
            note=FROM_FILE,
            expected_version=patient.version,
            **given.act,
        )


def _rejected(planned: Planned, refused: RowRefused, plan: Plan) -> Rejected:
    written = plan.sheet.values(planned.row)
    faults = [
        RowFault(planned.row.line, column, written.get(column, ""), reason)
        for column, reason in refused.reasons
    ]
    return Rejected(planned.row, tuple(faults))


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


def _keep_account(batch: ImportBatch, plan: Plan, landed: Mapping[int, int]) -> None:
    """Write down what became of the file and of each row; a refused file has landed nothing."""
    batch.state = (
        ImportState.REFUSED
        if plan.has_faults and not landed
        else ImportState.PARTIAL
        if plan.rejected
        else ImportState.DONE
    )
    batch.rows_read = plan.rows_read
    batch.rows_landed = len(landed)
    batch.rows_known = len(plan.known)
    batch.rows_refused = len(plan.rejected)
    batch.save()
    ImportRow.objects.bulk_create(
        [
            *(
                ImportRow(
                    batch=batch,
                    line=one.row.line,
                    fingerprint=one.case.fingerprint,
                    procedure_id=landed[one.row.line],
                )
                for one in plan.good
                if one.row.line in landed
            ),
            *(
                ImportRow(batch=batch, line=one.line, fingerprint=one.fingerprint, reason=one.why)
                for one in plan.known
            ),
            *(
                ImportRow(
                    batch=batch,
                    line=one.row.line,
                    fingerprint=fingerprint(plan.sheet.values(one.row)),
                    reason=_kept_reason(one),
                )
                for one in plan.rejected
            ),
        ],
        batch_size=500,
    )


def _kept_reason(one: Rejected) -> str:
    """Return the reason without what the row says of names and birth: this is no place for them."""
    return "; ".join(
        f"{fault.column}: cannot be used"
        if fault.column in NAMING
        else str(fault.column and f"{fault.column}: ") + fault.reason
        for fault in one.faults
    )


def _hash(source: BinaryIO) -> str:
    source.seek(0)
    found = hashlib.sha256()
    for block in iter(partial(source.read, BLOCK), b""):
        found.update(block)
    return found.hexdigest()
