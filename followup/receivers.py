"""What the follow-up does when the registry announces something: one service each."""

from datetime import date, datetime
from typing import Any

from django.dispatch import receiver

from followup.models.tasks import TaskKind
from followup.services import (
    bulk_exports,
    calendars,
    contacts,
    drafts,
    feeds,
    hardware,
    hospital_slots,
    image_files,
    invitations,
    letters,
    messages,
    moves,
    notice_tasks,
    operation_moves,
    planning,
    questionnaires,
    reaching,
    replies,
    tasks,
    uploads,
    voiding,
)
from registry import notices
from registry.models.injuries import Injury
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.safety_notices import NoticeCarrier, SafetyNotice
from registry.models.sites import Site
from registry.rules.hl7_said import SlotSaid
from registry.selectors import choices
from registry.services.background import background_person
from registry.services.moved_rows import Act, Along


@receiver(notices.site_saved, dispatch_uid="settle-site")
def settle_site(
    sender: object, site: Site, by: Person | None, now: datetime, today: date, **kwargs: Any
) -> None:
    """Close a site on its public holidays at once; keep a number to ring where it asks at home."""
    questionnaires.need_telephone(site=site)
    if site.is_active:
        calendars.fill_holidays(site=site, by=by or background_person(), now=now, today=today)


@receiver(notices.person_shut_out, dispatch_uid="revoke-calendars")
def revoke_calendars(
    sender: object, person: Person, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Let nothing that a person was given go on reading when they are shut out."""
    feeds.revoke_all(owner=person, by=by, now=now)


@receiver(notices.procedure_recorded, dispatch_uid="plan-recorded")
def plan_recorded(
    sender: object, procedure: Procedure, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Plan the reviews of a new operation and close what it ends."""
    planning.plan_injury(procedure=procedure, by=by, now=now, today=today)
    hardware.settle_by_procedure(procedure=procedure, by=by, now=now)


@receiver(notices.operation_date_corrected, dispatch_uid="plan-corrected")
def plan_corrected(
    sender: object, procedure: Procedure, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Move the open reviews of an operation whose date was corrected."""
    planning.plan_injury(procedure=procedure, by=by, now=now, today=today)


@receiver(notices.construct_recorded, dispatch_uid="plan-construct")
def plan_construct(
    sender: object, procedure: Procedure, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Plan afresh when what was implanted calls for its own protocol."""
    planning.plan_for_construct(procedure=procedure, by=by, now=now, today=today)


@receiver(notices.patient_status_changed, dispatch_uid="plan-status")
def plan_status(
    sender: object, patient: Patient, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Close or reopen reviews, and stop every message at once, when a patient's status changes."""
    if patient.status != PatientStatus.ACTIVE:
        messages.stop_for_patient(
            patient_id=patient.pk, because=patient.get_status_display().lower()
        )
    for procedure in Procedure.objects.filter(injury__patient=patient).select_related(
        "injury__patient", "site"
    ):
        planning.plan_reviews(procedure=procedure, by=by, now=now, today=today)


@receiver(notices.registry_choice_made, dispatch_uid="stop-opted-out")
def stop_opted_out(
    sender: object, patient: Patient, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Stop messages and questions to whoever opted out of the registry, followed up or not."""
    if choices.not_contacted().filter(pk=patient.pk).exists():
        because = invitations.OPTED_OUT
        messages.stop_for_patient(patient_id=patient.pk, because=because)
        invitations.revoke_of_patient(patient_id=patient.pk, because=because, by=by, now=now)


@receiver(notices.contact_changed, dispatch_uid="bring-back")
def bring_back(
    sender: object, patient: Patient, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Return a patient whose ways of contact are new to the lists of all sites."""
    reaching.bring_back(patient=patient, because=reaching.NEW_CONTACT, by=by, now=now, today=today)


@receiver(notices.patients_merged, dispatch_uid="follow-merge")
def follow_merge(
    sender: object, kept: Patient, merged: Patient, by: Person, now: datetime, **kwargs: Any
) -> dict[str, list[int]]:
    """Let contact attempts, messages and tasks follow the patient that was kept; say which."""
    feeds.keep_rising(patients=[kept, merged])
    moved = contacts.follow_merge(kept=kept, merged=merged)
    notice_tasks.follow_patient(came_from=merged, to=kept, by=by, now=now)
    return moved


@receiver(notices.patients_unmerged, dispatch_uid="follow-unmerge")
def follow_unmerge(
    sender: object,
    kept: Patient,
    merged: Patient,
    moved: dict[str, list[int]],
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> None:
    """Give contact attempts, messages and tasks back to the patient that they were taken from."""
    feeds.keep_rising(patients=[kept, merged])
    contacts.follow_unmerge(kept=kept, merged=merged, moved=moved)
    notice_tasks.follow_patient(came_from=kept, to=merged, by=by, now=now)


@receiver(notices.patient_erased, dispatch_uid="void-erased")
def void_erased(
    sender: object,
    patient: Patient,
    keep_facts: bool,
    reason: str,
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> None:
    """Stop every message to an erased patient, close the tasks, void findings that may not be kept."""
    because = "erased on request"
    messages.stop_for_patient(patient_id=patient.pk, because=because)
    tasks.close_for_patient(patient=patient, note=because, by=by, now=now)
    replies.forget_patient(patient=patient)
    drafts.forget_of_patient(patient=patient)
    letters.forget_of_patient(patient=patient)
    hospital_slots.forget_of_patient(patient=patient)
    if not keep_facts:
        voiding.void_of_patient(patient=patient, reason=reason, by=by, now=now)
        image_files.forget_of_patient(patient=patient)


@receiver(notices.patient_erased, dispatch_uid="files-erased")
def forget_in_files(sender: object, patient: Patient, now: datetime, **kwargs: Any) -> list[str]:
    """Delete copies that may hold an erased patient; answer with what else may name them."""
    sites = [patient.site_id, *patient.at_sites.values_list("site_id", flat=True)]
    deleted = bulk_exports.forget_erased(sites=sites)
    copies = [f"{deleted} ready cop{'ies' if deleted > 1 else 'y'} in FHIR deleted."] * bool(
        deleted
    )
    return [*copies, *uploads.mark_erased(sites=sites, now=now)]


@receiver(notices.row_voided, sender=Injury, dispatch_uid="void-with-injury")
def void_with_injury(
    sender: object, row: Injury, reason: str, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Void what was found on an injury that is void."""
    voiding.void_of_injury(injury=row, reason=reason, by=by, now=now)


@receiver(notices.row_voided, sender=Procedure, dispatch_uid="void-with-procedure")
def void_with_procedure(
    sender: object, row: Procedure, reason: str, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Void what hangs on an operation that is void, and open again what it had ended or settled."""
    voiding.void_of_procedure(procedure=row, reason=reason, by=by, now=now)
    hardware.unsettle_by_void(procedure=row, by=by, now=now)
    planning.plan_after_void(procedure=row, by=by, now=now)


@receiver(notices.hospital_slot_said, dispatch_uid="take-slot")
def take_slot(
    sender: object,
    patient: Patient,
    site: Site,
    slot: SlotSaid,
    clock: str,
    message_id: int,
    by: Person,
    now: datetime,
    today: date,
    **kwargs: Any,
) -> tuple[str, str]:
    """Let a review's slot follow what the hospital's system says of it; answer what became of it."""
    when = hospital_slots.When(by, now, today)
    return hospital_slots.take_slot(
        patient=patient, site=site, slot=slot, clock=clock, message_id=message_id, when=when
    )


@receiver(notices.injury_moved, dispatch_uid="follow-move")
def follow_move(
    sender: object,
    injury: Injury,
    came_from: Patient,
    to: Patient,
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> dict[str, list[int]]:
    """Let what is still to be done about a moved injury follow it; say which."""
    feeds.keep_rising(patients=[came_from, to])
    on_it = operation_moves.operations_of(injury)
    moved = moves.follow_move(procedures=on_it, to=to, now=now)
    notice_tasks.follow(procedures=on_it, came_from=came_from, to=to, by=by, now=now)
    return moved


@receiver(notices.injury_moved_back, dispatch_uid="follow-move-back")
def follow_move_back(
    sender: object,
    injury: Injury,
    came_from: Patient,
    to: Patient,
    moved: dict[str, Any],
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> None:
    """Give what had followed a moved injury back to the patient that it was taken from."""
    feeds.keep_rising(patients=[came_from, to])
    moves.follow_back(came_from=came_from, to=to, moved=moved)
    on_it = operation_moves.operations_of(injury)
    notice_tasks.follow(procedures=on_it, came_from=came_from, to=to, by=by, now=now)


@receiver(notices.operation_moved, dispatch_uid="follow-operation")
def follow_operation(
    sender: object,
    procedures: list[int],
    came_from: Injury,
    to: Injury,
    along: Along,
    by: Person,
    now: datetime,
    today: date,
    **kwargs: Any,
) -> dict[str, Any]:
    """Let what belongs to a moved operation follow it, and plan both injuries; say what changed."""
    return operation_moves.follow(
        procedures=procedures,
        came_from=came_from,
        to=to,
        along=along,
        act=Act(by, now, today),
    )


@receiver(notices.operation_moved_back, dispatch_uid="follow-operation-back")
def follow_operation_back(
    sender: object,
    procedures: list[int],
    came_from: Injury,
    to: Injury,
    moved: dict[str, Any],
    by: Person,
    now: datetime,
    today: date,
    **kwargs: Any,
) -> None:
    """Give back what had followed a moved operation, and plan both injuries."""
    operation_moves.follow_back(
        procedures=procedures, came_from=came_from, to=to, moved=moved, act=Act(by, now, today)
    )


@receiver(notices.injury_left, dispatch_uid="injury-left")
def is_injury_used(sender: object, injury: Injury, **kwargs: Any) -> bool:
    """Answer whether anything was found on an injury that an operation has left."""
    return operation_moves.holds_anything(injury)


@receiver(notices.injury_side_changed, dispatch_uid="turn-exams")
def turn_exams(
    sender: object,
    injury: Injury,
    rows: dict[str, Any] | None,
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> dict[str, list[int]]:
    """Let exams of motion change sides with their injury; say which."""
    return moves.turn_exams(injury=injury, rows=rows, by=by, now=now)


@receiver(notices.patient_status_changed, dispatch_uid="close-tasks-status")
def close_tasks(sender: object, patient: Patient, by: Person, now: datetime, **kwargs: Any) -> None:
    """Close the tasks about a patient who died, withdrew or moved away; open them on their return.

    Who moved away may still have to be told to see somebody about an alarming answer.
    """
    if patient.status == PatientStatus.ACTIVE:
        endings = [words.lower() for words in PatientStatus.labels]
        tasks.reopen_for_patient(patient=patient, notes=endings, by=by, now=now)
        return
    keep = [TaskKind.ALARMING_ANSWER] if patient.status == PatientStatus.MOVED else []
    if patient.status != PatientStatus.DIED:
        # What is in the patient stays there; whether they are told is for the site's policy to say.
        keep.append(TaskKind.SAFETY_NOTICE)
    because = patient.get_status_display().lower()
    tasks.close_for_patient(patient=patient, note=because, by=by, now=now, keep=keep)


@receiver(notices.patient_status_changed, dispatch_uid="revoke-status")
def revoke_status(
    sender: object, patient: Patient, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Withdraw what a patient was asked at home when they died, withdrew or moved away."""
    if patient.status != PatientStatus.ACTIVE:
        because = patient.get_status_display().lower()
        invitations.revoke_of_patient(patient_id=patient.pk, because=because, by=by, now=now)


@receiver(notices.patient_erased, dispatch_uid="revoke-erased")
def revoke_erased(
    sender: object, patient: Patient, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Withdraw what an erased patient was asked at home."""
    because = "erased on request"
    invitations.revoke_of_patient(patient_id=patient.pk, because=because, by=by, now=now)


@receiver(notices.row_voided, sender=Procedure, dispatch_uid="revoke-with-procedure")
def revoke_with_procedure(
    sender: object, row: Procedure, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Withdraw what was asked at home about an operation that is void."""
    because = "the operation was voided"
    invitations.revoke_of_procedure(procedure_id=row.pk, because=because, by=by, now=now)


@receiver(notices.carriers_found, dispatch_uid="notice-tasks")
def open_notice_tasks(
    sender: object,
    notice: SafetyNotice,
    carriers: list[NoticeCarrier],
    by: Person,
    now: datetime,
    **kwargs: Any,
) -> None:
    """Let each patient whom a safety notice is about be a task of their site."""
    notice_tasks.open_for(notice=notice, carriers=carriers, by=by, now=now)


@receiver(notices.carrier_moved, dispatch_uid="notice-task-settled")
def settle_notice_task(
    sender: object, carrier: NoticeCarrier, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Close the task about a patient when nothing is left to do, and open it when something is."""
    notice_tasks.settle(carrier=carrier, by=by, now=now)


@receiver(notices.row_voided, sender=Procedure, dispatch_uid="notice-tasks-void")
def settle_with_procedure(
    sender: object, row: Procedure, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Close the tasks of safety notices about an operation that is void."""
    for carrier in NoticeCarrier.everything.filter(procedure=row).select_related("notice"):
        notice_tasks.settle(carrier=carrier, by=by, now=now)
