"""The dry run of a file: every row is weighed, nothing but what was found is written."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from datetime import date
from itertools import islice
from typing import Any

from django.db import transaction
from django.db.models import Q

from followup.models.imports import DraftState, ImportDraft, ImportFinding, ImportPair, RowFinding
from followup.rules.case_facts import PersonGiven
from followup.services import import_drafts, import_plans
from followup.services.import_plans import How, Plan, RowReader
from followup.services.import_recorded import Answers, Likeness, Recorded
from followup.services.uploads import open_upload
from registry.errors import BadInput
from registry.exchange import sheets
from registry.exchange.sheets import Row, Sheet
from registry.rules import dates
from registry.selectors.patients import numbered
from registry.services.enrolment import HOSPITAL_NUMBER

CHUNK = 200
SHOWN_VALUE = 200
COUNTS = ("rows_done", "rows_good", "rows_known", "rows_waiting", "rows_rejected")
# What is called after each chunk, inside its transaction; it refuses where somebody else took over.
Beat = Callable[[], None]


def check(draft: ImportDraft, *, today: date, beat: Beat) -> None:
    """Weigh every row of a file against the site's record and the lines before it.

    What was found before is thrown away, but for what somebody decided. Raises BadInput for a header
    that does not fit what was settled.
    """
    answers = answers_of(draft)
    how = how_of(draft, today, answers)
    recorded = Recorded(draft.site, answers=answers)
    _forget_found(draft)
    with open_upload(draft) as source:
        sheet = sheets.read(source, how.written)
        reader = reader_of(draft, sheet, how)
        for rows in chunks(sheet):
            plan = Plan(sheet)
            import_plans.weigh(plan, rows, reader, recorded)
            with transaction.atomic():
                beat()
                _keep_found(draft, plan, len(rows), answers)
    draft.state = DraftState.CHECKED
    draft.save(update_fields=["state"])


def how_of(draft: ImportDraft, today: date, answers: Answers) -> How:
    """Return how a file is read, by what was settled about it."""
    return How(
        today,
        written=import_drafts.written_of(draft),
        translation=import_drafts.translation_of(draft),
        answers=answers,
    )


def reader_of(draft: ImportDraft, sheet: Sheet, how: How) -> RowReader:
    """Return what reads a file's rows. Raises BadInput for a header that was not settled so."""
    wrong = import_plans.header_faults(sheet, how)
    if wrong:
        raise BadInput(" ".join(str(fault) for fault in wrong))
    return RowReader(sheet, draft.site, how.today, import_plans.translation_of(sheet, how))


def chunks(sheet: Sheet) -> Iterator[list[Row]]:
    """Yield the rows of a file in lists of a bounded length."""
    while rows := list(islice(sheet.rows, CHUNK)):
        yield rows


def answers_of(draft: ImportDraft) -> dict[tuple[str, str], str]:
    """Return what people decided about the pairs of a file."""
    rows = ImportPair.objects.filter(draft=draft).exclude(answer="")
    return {(row.number, row.other_key): row.answer for row in rows}


def _forget_found(draft: ImportDraft) -> None:
    draft.findings.all().delete()
    draft.pairs.filter(answer="").delete()
    draft.rows_done = draft.rows_good = draft.rows_known = 0
    draft.rows_rejected = draft.rows_waiting = 0
    draft.save(update_fields=list(COUNTS))


def _keep_found(draft: ImportDraft, plan: Plan, rows: int, answers: Answers) -> None:
    waiting = sum(1 for one in plan.rejected if one.asks)
    draft.rows_done += rows
    draft.rows_good += len(plan.good)
    draft.rows_known += len(plan.known)
    draft.rows_waiting += waiting
    draft.rows_rejected += len(plan.rejected) - waiting
    draft.save(update_fields=list(COUNTS))
    ImportFinding.objects.bulk_create(_findings(draft, plan), batch_size=500)
    pairs = [pair for one in plan.good for pair in one.who.pairs]
    pairs += [pair for one in plan.rejected for pair in one.asks]
    ImportPair.objects.bulk_create(
        [_pair(draft, one, answers) for one in pairs], batch_size=500, ignore_conflicts=True
    )


def keep_asked(draft: ImportDraft, asks: Sequence[Likeness], answers: Answers) -> None:
    """Keep the pairs that came up only as rows landed, so that somebody can decide about them.

    Whoever was asked about as an earlier line, and is a patient by now, is not asked about twice.
    """
    if not asks:
        return
    numbers = {one.number for one in asks}
    kept = draft.pairs.filter(Q(number__in=numbers) | Q(other_number__in=numbers))
    beside = set(kept.exclude(other_number="").values_list("number", "other_number"))
    beside |= {(other, number) for number, other in beside}
    whose = numbered(draft.site, HOSPITAL_NUMBER, [other for _, other in beside])
    known = {(number, whose[other].patient.pk) for number, other in beside if other in whose}
    new = [
        _pair(draft, one, answers) for one in asks if (one.number, one.other_patient) not in known
    ]
    ImportPair.objects.bulk_create(new, batch_size=500, ignore_conflicts=True)


def _findings(draft: ImportDraft, plan: Plan) -> list[ImportFinding]:
    return [
        *(
            ImportFinding(draft=draft, line=one.line, kind=RowFinding.KNOWN, reason=one.why)
            for one in plan.known
        ),
        *(
            ImportFinding(
                draft=draft,
                line=one.row.line,
                kind=RowFinding.WAITING if one.asks else RowFinding.REJECTED,
                column=fault.column[:200],
                value=fault.value[:SHOWN_VALUE],
                reason=fault.reason,
            )
            for one in plan.rejected
            for fault in one.faults
        ),
    ]


def _pair(draft: ImportDraft, one: Likeness, answers: Answers) -> ImportPair:
    return ImportPair(
        draft=draft,
        line=one.line,
        number=one.number,
        person=person_to_plain(one.person),
        other_patient_id=one.other_patient,
        other_line=one.other_line,
        other_number=one.other_number,
        other_person=person_to_plain(one.other_person) if one.other_person else {},
        other_key=one.other_key,
        weight=one.weight,
        likely=one.likely,
        because=one.because[:200],
        answer=answers.get((one.number, one.other_key), ""),
    )


def person_to_plain(person: PersonGiven) -> dict[str, Any]:
    """Return a person as the page shows it, in what JSON can keep."""
    return {**asdict(person), "birth": dates.written(person.birth)}


def lines_rejected(draft: ImportDraft, rows: Sequence[Row]) -> dict[int, list[ImportFinding]]:
    """Return what the check found against some rows, by line."""
    found: dict[int, list[ImportFinding]] = {}
    if rows:
        first, last = rows[0].line, rows[-1].line
        for one in draft.findings.filter(kind=RowFinding.REJECTED, line__gte=first, line__lte=last):
            found.setdefault(one.line, []).append(one)
    return found
