"""Emergency access: what is open to a person now, who opened what, and the pages that they saw."""

from collections.abc import Sequence
from typing import Any

from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from registry.models.audit import AuditEntry
from registry.models.emergencies import EmergencyAccess
from registry.models.patients import Patient
from registry.selectors.patient_tables import PatientTable, table_of

# How pages that were opened by an emergency access are named in the trail.
OPENED = "emergency access"


def let_in(user: Any) -> None:
    """Let a person's emergency accesses count from now on, in the request that is being answered.

    Only whoever writes down what is shown may call this: nothing is opened unseen.
    """
    user.emergencies_count = True


def open_to(user: Any) -> list[EmergencyAccess]:
    """Return the emergency accesses that count for a person in this request; asked once."""
    if not getattr(user, "emergencies_count", False):
        return []
    kept: list[EmergencyAccess] | None = getattr(user, "_emergencies", None)
    if kept is None:
        now = timezone.now()
        kept = list(
            EmergencyAccess.objects.filter(person_id=user.pk, ends_at__gt=now).select_related(
                "patient"
            )
        )
        user._emergencies = kept
    return kept


def note_use(user: Any, model: type[Model]) -> None:
    """Remember that rows of a model were asked for while an emergency access was open."""
    used: set[type[Model]] = getattr(user, "_emergency_models", set())
    user._emergency_models = used | {model}


def may_show(user: Any) -> bool:
    """Say whether rows were asked for in this request while an emergency access was open."""
    return bool(getattr(user, "_emergency_models", ()))


def shown(user: Any, text: str, numbers: Sequence[int]) -> list[EmergencyAccess]:
    """Return the accesses by which an answer shows something: it names the patient's key, or it is about
    a row of theirs, whose number stands in its address.
    """
    asked_for: set[type[Model]] = getattr(user, "_emergency_models", set())
    return [
        access
        for access in open_to(user)
        if asked_for and (access.patient.key in text or _is_theirs(access, asked_for, numbers))
    ]


def _is_theirs(access: EmergencyAccess, models: set[type[Model]], numbers: Sequence[int]) -> bool:
    tables = (table_of(model) for model in models) if numbers else ()
    return any(
        table.model._base_manager.filter(rows_open(table, [access]), pk__in=numbers).exists()
        for table in tables
        if table is not None and table.model is not Patient
    )


def rows_open(table: PatientTable, accesses: Sequence[EmergencyAccess]) -> Q:
    """Say which rows of a table some accesses open: the patient's, and of the site that they are about."""
    found = Q(pk__in=[])
    for access in accesses:
        theirs = Q()
        for way in table.to_patient:
            theirs |= Q(**{way: access.patient_id})
        here = Q(**{table.to_site: access.site_id}) if table.to_site else Q()
        found |= theirs & here
    return Q(pk__in=table.model._base_manager.filter(found).order_by().values("pk"))


def own_accesses(user: Any) -> QuerySet[EmergencyAccess]:
    """Return what a person has opened themself, the newest first."""
    return EmergencyAccess.objects.filter(person_id=user.pk).select_related("patient", "site")


def accesses_at(sites: list[int]) -> QuerySet[EmergencyAccess]:
    """Return the emergency accesses to patients of some sites; those to be looked at come first."""
    rows = EmergencyAccess.objects.filter(site_id__in=sites)
    return rows.select_related("person", "patient", "site", "looked_by").order_by(
        "looked_at", "-opened_at", "-id"
    )


def pages_of(access: EmergencyAccess) -> QuerySet[AuditEntry]:
    """Return the trail's entries of what was opened by an access, the oldest first."""
    return AuditEntry.objects.filter(
        table=Patient._meta.db_table,
        row_id=str(access.patient_id),
        person_id=access.person_id,
        action="read",
        reason__startswith=f"{OPENED} {access.pk}: ",
    ).order_by("id")
