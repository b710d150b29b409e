"""Bringing two entries of one person together, and parting them again exactly."""

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from registry import notices
from registry.errors import BadInput, IllegalTransition
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.injuries import Injury
from registry.models.merges import PatientMerge, TwoPeople
from registry.models.patients import Consent, Patient, PatientSite
from registry.models.people import Person
from registry.services import records
from registry.services.moved_rows import hand_on, mark_undone

CLINICAL: tuple[type[Injury] | type[Consent], ...] = (Injury, Consent)
HANDED: tuple[type[Identifier | PatientSite | AlternativeContact], ...] = (
    Identifier,
    PatientSite,
    AlternativeContact,
)


def merge_patients(
    *,
    kept: Patient,
    merged: Patient,
    reason: str,
    kept_version: int,
    merged_version: int,
    by: Person,
    now: datetime,
) -> PatientMerge:
    """Move everything of one patient to another of the same person; the first stays for undoing.

    Both identities stay as they were; means of contact refused in either are refused from now on.
    Raises BadInput when both are one, when their states differ (what an ending closed could not be
    given back exactly), or without a reason; StaleVersion when either was changed meanwhile.
    """
    _mergeable(kept, merged, reason)
    because = f"merged: {reason}"
    with records.change(by=by, reason=because):
        records.save(kept, {}, by=by, now=now, expected_version=kept_version)
        records.save(merged, {"merged_into": kept}, by=by, now=now, expected_version=merged_version)
        moved: dict[str, Any] = {
            model._meta.db_table: hand_on(
                model.everything.filter(patient=merged), by=by, now=now, patient=kept
            )
            for model in CLINICAL
        }
        for handed in HANDED:
            moved[handed._meta.db_table] = _hand_over(handed, merged, kept)
        moved["refused_means"] = _refuse_both(kept, merged)
        answers: list[tuple[Any, Any]] = notices.patients_merged.send(
            sender=Patient, kept=kept, merged=merged, by=by, now=now
        )
        for _, theirs in answers:
            moved.update(theirs or {})
        return PatientMerge.objects.create(
            kept=kept,
            merged=merged,
            merged_at=now,
            merged_by=by,
            reason=reason.strip()[:300],
            moved=moved,
        )


def unmerge_patients(*, merge: PatientMerge, by: Person, now: datetime) -> Patient:
    """Give the merged patient back exactly what was taken; what was added since stays where it is.

    Raises IllegalTransition when the merge is undone already or the kept patient was itself merged
    later.
    """
    kept, merged = merge.kept, merge.merged
    _undoable(merge)
    with records.change(by=by, reason="merge undone"):
        mark_undone(merge, what="This merge", by=by, now=now)
        for model in CLINICAL:
            theirs = merge.moved.get(model._meta.db_table, [])
            rows = model.everything.filter(pk__in=theirs, patient=kept)
            hand_on(rows, by=by, now=now, patient=merged)
        for handed in HANDED:
            theirs = merge.moved.get(handed._meta.db_table, [])
            handed._default_manager.filter(pk__in=theirs, patient=kept).update(patient=merged)
        _refuse_as_before(kept, merge.moved.get("refused_means"))
        records.save(merged, {"merged_into": None}, by=by, now=now, expected_version=merged.version)
        notices.patients_unmerged.send(
            sender=Patient, kept=kept, merged=merged, moved=merge.moved, by=by, now=now
        )
    merge.refresh_from_db()
    return merged


def say_two_people(*, one: Patient, other: Patient, by: Person, now: datetime) -> TwoPeople:
    """Note that two similar entries are different people; saying it twice changes nothing.

    Raises BadInput when both are one entry.
    """
    if one.pk == other.pk:
        raise BadInput("This is one patient, not two.")
    first, second = sorted((one, other), key=lambda patient: patient.pk)
    with records.change(by=by):
        return TwoPeople.objects.get_or_create(
            first=first, second=second, defaults={"said_at": now, "said_by": by}
        )[0]


def _mergeable(kept: Patient, merged: Patient, reason: str) -> None:
    if kept.pk == merged.pk:
        raise BadInput("A patient cannot be merged into itself.")
    if kept.merged_into_id or merged.merged_into_id:
        raise BadInput("One of the two was merged already; open the patient that was kept.")
    if not reason.strip():
        raise BadInput({"reason": "Say how you know that both are one person."})
    if kept.status != merged.status:
        raise BadInput(
            f"{kept} is '{kept.get_status_display().lower()}' and {merged} is "
            f"'{merged.get_status_display().lower()}'. Set the state that is true on both, "
            "then merge."
        )


def _undoable(merge: PatientMerge) -> None:
    if merge.undone_at is not None:
        raise IllegalTransition("This merge", present="undone", wanted="undone")
    if merge.kept.merged_into_id is not None:
        raise IllegalTransition(
            "This merge", present="followed by a later one, undo that first", wanted="undone"
        )
    if not Identity.objects.filter(patient_id__in=[merge.kept_id, merge.merged_id]).exists():
        raise IllegalTransition("This merge", present="erased", wanted="undone")


def _hand_over(
    model: type[Identifier | PatientSite | AlternativeContact], merged: Patient, kept: Patient
) -> list[int]:
    rows: QuerySet[Any] = model._default_manager.filter(patient=merged)
    if model is PatientSite:
        already = PatientSite.objects.filter(patient=kept).values("site_id")
        rows = rows.exclude(site_id__in=already)
    moved = list(rows.values_list("pk", flat=True))
    model._default_manager.filter(pk__in=moved).update(patient=kept)
    return moved


def _refuse_both(kept: Patient, merged: Patient) -> dict[str, list[str]]:
    """Refuse for the kept patient what either entry refused; return what was and what is now."""
    identities = {
        row.patient_id: row for row in Identity.objects.filter(patient__in=[kept, merged])
    }
    if len(identities) < 2:
        return {}
    mine, theirs = identities[kept.pk], identities[merged.pk]
    both = [*mine.refused_means, *(m for m in theirs.refused_means if m not in mine.refused_means)]
    if both == mine.refused_means:
        return {}
    Identity.objects.filter(pk=mine.pk).update(refused_means=both, version=mine.version + 1)
    return {"before": list(mine.refused_means), "after": both}


def _refuse_as_before(kept: Patient, change: dict[str, list[str]] | None) -> None:
    """Take the merge's refusals back, unless somebody changed them since."""
    identity = Identity.objects.filter(patient=kept).first()
    if not change or identity is None or identity.refused_means != change["after"]:
        return
    Identity.objects.filter(pk=identity.pk).update(
        refused_means=change["before"], version=identity.version + 1
    )
