"""Who may see what: the one function that every view, endpoint, export and chart goes through."""

from datetime import date
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from registry.errors import NotAllowed
from registry.models.base import ClinicalRow
from registry.models.emergencies import EmergencyAccess
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.patients import Patient, PatientSite
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.rules import roles
from registry.selectors import emergencies
from registry.selectors.patient_tables import table_of

AnyModel = TypeVar("AnyModel", bound=Model)
Viewer = Person | AnonymousUser


def memberships_of(user: Viewer, today: date) -> "dict[int, frozenset[str]]":
    """Return the roles that a person holds today, by site; asked once per request."""
    if not isinstance(user, Person) or not user.is_active:
        return {}
    kept: tuple[date, dict[int, frozenset[str]]] | None = getattr(user, "_roles_today", None)
    if kept is not None and kept[0] == today:
        return kept[1]
    held: dict[int, set[str]] = {}
    rows = Membership.objects.filter(
        Q(ends_on__isnull=True) | Q(ends_on__gte=today),
        person=user,
        starts_on__lte=today,
        site__is_active=True,
    ).values_list("site_id", "role")
    for site_id, role in rows:
        held.setdefault(site_id, set()).add(role)
    # A token may be made for some sites alone (registry/api/scopes.py).
    only: frozenset[int] | None = getattr(user, "only_sites", None)
    answer = {
        site_id: frozenset(names)
        for site_id, names in held.items()
        if only is None or site_id in only
    }
    user._roles_today = (today, answer)  # type: ignore[attr-defined]
    return answer


def site_ids(user: Viewer, action: str, today: date | None = None) -> list[int]:
    """Return the sites where a person may do something."""
    day = today or timezone.localdate()
    held = memberships_of(user, day)
    return sorted(site for site, names in held.items() if roles.allowed(names, action))


def may(user: Viewer, action: str, today: date | None = None) -> bool:
    """Say whether a person may do something at any site."""
    return bool(site_ids(user, action, today))


def require(user: Viewer, action: str, site_id: int | None = None) -> None:
    """Refuse what a person's roles do not permit, at one site or at any.

    Raises NotAllowed.
    """
    allowed = site_ids(user, action)
    if not allowed or (site_id is not None and site_id not in allowed):
        raise NotAllowed(
            f"Your roles do not permit this ({action.replace('_', ' ')}). "
            "Ask your administrator if they should."
        )


def not_ended() -> Q:
    """Return what holds for a role that gives its rights today, or will: its last day counts."""
    return Q(ends_on__isnull=True) | Q(ends_on__gte=timezone.localdate())


def visible(user: Viewer, model: type[AnyModel], action: str = "see_patient") -> QuerySet[Any]:
    """Return the rows of a model that a person may see for an action, at their sites only.

    What an emergency has opened of a patient elsewhere is among them where the action only reads.
    """
    rows = rows_at(model, site_ids(user, action))
    accesses = in_emergency(user, action)
    table = table_of(model) if accesses else None
    if table is None:
        return rows
    emergencies.note_use(user, model)
    theirs = rows_at(model, [access.site_id for access in accesses])
    return rows | theirs.filter(emergencies.rows_open(table, accesses))


def in_emergency(user: Viewer, action: str) -> list[EmergencyAccess]:
    """Return the emergency accesses that open something to a person for an action."""
    # A token for some sites alone reads nothing beyond them, in an emergency either.
    narrowed = getattr(user, "only_sites", None) is not None
    if narrowed or action not in roles.READ_IN_EMERGENCY:
        return []
    held = memberships_of(user, timezone.localdate()).values()
    clinical = frozenset().union(*held) & roles.CLINICAL
    return emergencies.open_to(user) if roles.allowed(clinical, action) else []


def sites_of_patient(user: Viewer, patient: Patient, action: str = "see_patient") -> list[int]:
    """Return the sites whose rows of a patient a person may see, those of an emergency included."""
    opened = in_emergency(user, action)
    here = {access.site_id for access in opened if access.patient_id == patient.pk}
    return sorted(here | set(site_ids(user, action)))


def rows_at(model: type[AnyModel], sites: list[int], *, voided: bool = False) -> QuerySet[Any]:
    """Return the rows of a model at some sites; `sites` are those of a person, and no others.

    With `voided`, clinical rows that were voided are among them, for who asks for one by its number.
    """
    if model is Site:
        return Site.objects.filter(pk__in=sites)
    if model is Membership:
        return Membership.objects.filter(site_id__in=sites)
    if model in (Patient, Identity, Identifier, AlternativeContact):
        return _patients(model, sites, voided=voided)
    if issubclass(model, ClinicalRow):
        return (model.everything if voided else model.objects).filter(site_id__in=sites)
    if any(field.name == "site" for field in model._meta.fields):
        return model._default_manager.filter(site_id__in=sites)
    return model._default_manager.all() if sites else model._default_manager.none()


def _patients(model: type[Model], sites: list[int], *, voided: bool) -> QuerySet[Any]:
    here = PatientSite.objects.filter(site_id__in=sites).values("patient_id")
    if model is Patient:
        people = Patient.everything if voided else Patient.objects
        return people.filter(pk__in=here, merged_into__isnull=True)
    rows = model._default_manager.filter(
        patient_id__in=here, patient__merged_into__isnull=True, patient__voided_at__isnull=True
    )
    return rows.filter(site_id__in=sites) if model is Identifier else rows
