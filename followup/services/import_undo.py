"""Taking an import back as a whole: what it added leaves every count, until something builds on it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from typing import Any

from django.db.models import Count, F, Model, Q, QuerySet

from followup.models.contacts import ContactAttempt
from followup.models.hospital_slots import HospitalSlot
from followup.models.imports import DraftState, ImportDraft
from followup.models.messages import Message, MessageState
from followup.models.protocols import VersionMove
from followup.models.questionnaires import Answer, Invitation
from followup.models.scores import Score
from followup.models.tasks import Task
from followup.notices import import_builders_asked
from followup.services import invitations
from followup.services.uploads import forget_upload
from followup.services.voiding import OF_INJURY, OF_PROCEDURE
from registry import notices
from registry.errors import BadInput, IllegalTransition
from registry.models.base import ClinicalRow
from registry.models.constructs import Construct, ConstructDeparture, Part
from registry.models.hospital_messages import HospitalRecord
from registry.models.imports import ImportBatch, ImportFate, ImportRow, ImportState
from registry.models.injuries import Classification, Injury
from registry.models.merges import PatientMerge
from registry.models.patients import Consent, Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.safety_notices import NoticeCarrier
from registry.models.sites import Site
from registry.services import patients, records
from registry.services.background import background_person

SHOWN, TOLD = 20, 5
ROWS_AT_ONCE = 1000
# Each kind of row that hangs on an injury, in the order in which they fall.
HANGS: tuple[tuple[type[ClinicalRow], str], ...] = (
    *((model, f"{way}__injury") for model, way in OF_PROCEDURE),
    *OF_INJURY,
    (VersionMove, "procedure__injury"),
    (Part, "construct__procedure__injury"),
    (ConstructDeparture, "construct__procedure__injury"),
    (Construct, "procedure__injury"),
    (NoticeCarrier, "procedure__injury"),
    (Procedure, "injury"),
    (Classification, "injury"),
    (Injury, "pk"),
)
OF_PATIENT: tuple[tuple[type[ClinicalRow], str], ...] = (
    (ContactAttempt, "patient"),
    (Task, "patient"),
    (Consent, "patient"),
    (Injury, "patient"),
)
# What a patient answered is written in the name of the background, and is no work of its own.
GIVEN_FROM_OUTSIDE = (Answer, Score)
GONE = (MessageState.WAITING, MessageState.STOPPED)


@dataclass(frozen=True)
class _Made:
    """What an import added: operations and their injuries, and the patients that were not there before.

    `ended` are those whose follow-up it ended.
    """

    procedures: "QuerySet[Any]"
    injuries: "QuerySet[Any]"
    enrolled: "QuerySet[Any]"
    ended: "QuerySet[Any]"


def what_builds_on(batch: ImportBatch, most: int = SHOWN) -> list[str]:
    """Say what stands on an import by now, in words; it can be taken back while this is empty.

    What the background did by itself - a review that lapsed, a message that waits - builds nothing.
    """
    return list(islice(_builders(batch), most))


def take_back(*, batch: ImportBatch, reason: str, by: Person, now: datetime, today: date) -> None:
    """Void everything that an import added, with the reason; the same file can be imported again.

    Raises BadInput without a reason, or naming what builds on it; IllegalTransition where it is not
    there to be taken back.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why this import is taken back."})
    allowed = [ImportState.DONE, ImportState.PARTIAL]
    with records.change(by=by, reason=reason):
        # Before the site, as whoever lands a part does.
        if stopped_by_fault(batch, now=now).select_for_update().exists():
            allowed.append(ImportState.RUNNING)
        Site.objects.select_for_update(no_key=True).get(pk=batch.site_id)
        standing = ImportBatch.objects.filter(pk=batch.pk, state__in=allowed)
        taken = standing.update(
            state=ImportState.UNDONE,
            undone_at=now,
            undone_by=by,
            undone_because=reason.strip()[:300],
            # The lines that a stopped import never came to waited to its end.
            rows_waiting=F("rows_read") - F("rows_landed") - F("rows_known") - F("rows_refused"),
        )
        if not taken:
            present = ImportBatch.objects.get(pk=batch.pk).get_state_display().lower()
            raise IllegalTransition("This import", present=present, wanted="taken back")
        builds = what_builds_on(batch)
        if builds:
            more = f" And {len(builds) - TOLD} more." if len(builds) > TOLD else ""
            raise BadInput(f"Something builds on this import: {' '.join(builds[:TOLD])}{more}")
        _void(batch, reason, by, now, today)
    for draft in ImportDraft.objects.filter(batch=batch):
        forget_upload(draft)
    batch.refresh_from_db()


def stopped_by_fault(batch: ImportBatch, *, now: datetime) -> QuerySet[ImportDraft]:
    """Return the file of an import that a fault stopped on its way, and that nobody works on."""
    free = ImportDraft.objects.filter(Q(holder="") | Q(held_until__lt=now), batch=batch)
    return free.filter(state=DraftState.LANDING).exclude(fault="")


def _made(batch: ImportBatch) -> _Made:
    rows = ImportRow.objects.filter(batch=batch, fate=ImportFate.LANDED)
    # Older ledgers also name those whose follow-up had ended before the import, in the same way.
    ended = rows.exclude(ended_as="").filter(
        procedure__injury__patient__changed_at__gte=batch.started_at
    )
    return _Made(
        procedures=rows.values("procedure_id"),
        injuries=rows.values("procedure__injury_id"),
        enrolled=rows.filter(enrolled=True).values("procedure__injury__patient_id"),
        ended=ended.values("procedure__injury__patient_id"),
    )


def _builders(batch: ImportBatch) -> Iterator[str]:
    made = _made(batch)
    for model, way in HANGS:
        yield from _changed(model, Q(**{f"{way}__in": made.injuries}), batch)
    for model, way in OF_PATIENT:
        yield from _changed(model, Q(**{f"{way}__in": made.enrolled}), batch)
    whose = Q(pk__in=made.enrolled) | Q(pk__in=made.ended)
    yield from _changed(Patient, whose, batch)
    yield from _messages(made)
    yield from _from_outside(made)
    yield from _people(batch, made)
    yield from _above(batch, made)


def _above(batch: ImportBatch, made: _Made) -> Iterator[str]:
    """Yield what the rooms above say builds on the cases, as far as they take part."""
    for _, told in import_builders_asked.send(
        sender=ImportBatch, batch=batch, procedures=made.procedures, most=SHOWN
    ):
        yield from told or ()


def _changed(model: type[ClinicalRow], which: Q, batch: ImportBatch) -> Iterator[str]:
    """Yield the rows that somebody made or changed since; what was voided since counts nowhere."""
    rows = (
        model.objects.filter(which)
        .exclude(changed_at=batch.started_at, changed_by=batch.started_by_id)
        .select_related("changed_by")
    )
    if model not in GIVEN_FROM_OUTSIDE:
        rows = rows.exclude(changed_by=background_person())
    what = str(model._meta.verbose_name)
    for row in rows.order_by("pk")[:SHOWN]:
        verb = "recorded" if row.version == 1 else "changed"
        yield f"{_whose(row)}: {what} {verb} on {row.changed_at:%d %b %Y} by {row.changed_by}."


def _messages(made: _Made) -> Iterator[str]:
    sent = Message.objects.filter(
        Q(review__procedure__injury__in=made.injuries) | Q(patient__in=made.enrolled)
    ).exclude(state__in=GONE)
    for one in sent.select_related("patient").order_by("pk")[:SHOWN]:
        yield f"Patient {one.patient.key}: a message went ({one.get_state_display().lower()})."


def _from_outside(made: _Made) -> Iterator[str]:
    """Yield what a patient answered from home, and what the hospital's system said of those here."""
    answered = Invitation.objects.filter(
        review__procedure__injury__in=made.injuries, completed_at__isnull=False
    )
    for asked in answered.select_related("review__procedure__injury__patient")[:SHOWN]:
        yield f"{_whose(asked)}: the questionnaire was answered."
    of_hospital: tuple[tuple[Any, Q], ...] = (
        (HospitalRecord, Q(patient__in=made.enrolled)),
        (
            HospitalSlot,
            Q(patient__in=made.enrolled)
            | Q(appointment__review__procedure__injury__in=made.injuries),
        ),
    )
    for model, which in of_hospital:
        for row in model.objects.filter(which).select_related("patient").order_by("pk")[:SHOWN]:
            yield f"{_whose(row)}: the hospital's system sent word of this patient."


def _people(batch: ImportBatch, made: _Made) -> Iterator[str]:
    merged = PatientMerge.objects.filter(
        Q(kept__in=made.enrolled) | Q(merged__in=made.enrolled), undone_at__isnull=True
    ).select_related("kept", "merged")
    for one in merged[:SHOWN]:
        yield f"Patient {one.merged.key} was merged into {one.kept.key}."
    enrolled = Patient.objects.filter(pk__in=made.enrolled)
    for patient in enrolled.filter(identity__version__gt=1)[:SHOWN]:
        yield f"Patient {patient.key}: name, birth date or contact were corrected."
    ours = ImportRow.objects.filter(batch=batch, number__isnull=False).values("number_id")
    others = Count("identifiers", filter=~Q(identifiers__in=ours))
    for patient in enrolled.annotate(others=others).filter(others__gt=0)[:SHOWN]:
        yield f"Patient {patient.key} was given a further number."


def _whose(row: Any) -> str:
    """Return the patient of a row by key, wherever it hangs."""
    owner: Model | None = row
    for _ in range(6):
        if isinstance(owner, Patient):
            return f"Patient {owner.key}"
        owner = next(
            (found for name in STEPS if (found := getattr(owner, name, None)) is not None),
            None,
        )
    return "A patient"


STEPS = (
    "patient",
    "injury",
    "procedure",
    "construct",
    "review",
    "film",
    "reading",
    "image",
    "decision",
    "invitation",
)


def _void(batch: ImportBatch, reason: str, by: Person, now: datetime, today: date) -> None:
    made = _made(batch)
    # What is voided below would no longer be found by its way.
    injuries = list(made.injuries.values_list("procedure__injury_id", flat=True))
    enrolled = list(made.enrolled.values_list("procedure__injury__patient_id", flat=True))
    numbers = list(
        ImportRow.objects.filter(batch=batch, number__isnull=False).values_list(
            "number_id", flat=True
        )
    )
    Message.objects.filter(
        Q(review__procedure__injury__in=made.injuries) | Q(patient__in=made.enrolled),
        state=MessageState.WAITING,
    ).update(state=MessageState.STOPPED, stopped_because="the import was taken back")
    asked = Invitation.objects.filter(review__procedure__injury__in=made.injuries)
    for procedure in set(asked.values_list("review__procedure_id", flat=True)):
        invitations.revoke_of_procedure(
            procedure_id=procedure, because="the import was taken back", by=by, now=now
        )
    _bring_back(batch, made, reason, by, now, today)
    for chunk in _parts(injuries):
        for model, way in HANGS:
            rows = model.everything.filter(**{f"{way}__in": chunk})
            records.void_all(rows, by=by, now=now, reason=reason)
    of_them: tuple[tuple[type[ClinicalRow], str], ...] = (*OF_PATIENT, (Patient, "pk"))
    for chunk in _parts(enrolled):
        for model, way in of_them:
            rows = model.everything.filter(**{f"{way}__in": chunk})
            records.void_all(rows, by=by, now=now, reason=reason)
    for chunk in _parts(numbers):
        patients.remove_identifiers(keys=chunk, reason=reason, by=by, now=now)
    notices.import_undone.send(sender=ImportBatch, batch=batch, injuries=injuries, by=by, now=now)


def _bring_back(
    batch: ImportBatch, made: _Made, reason: str, by: Person, now: datetime, today: date
) -> None:
    """Let those be under follow-up again whom the import had said to have died or left."""
    ended = Patient.objects.filter(pk__in=made.ended).exclude(pk__in=made.enrolled)
    for patient in ended.exclude(status=PatientStatus.ACTIVE):
        patients.change_status(
            patient=patient,
            status=PatientStatus.ACTIVE,
            on=None,
            note=reason,
            expected_version=patient.version,
            by=by,
            now=now,
            today=today,
        )


def _parts(keys: Sequence[int]) -> Iterator[Sequence[int]]:
    for start in range(0, len(keys), ROWS_AT_ONCE):
        yield keys[start : start + ROWS_AT_ONCE]
