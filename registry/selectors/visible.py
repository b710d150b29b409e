"""Who may see what: the one function that every view, endpoint, export and chart goes through."""

from datetime import date
from typing import Any, TypeVar

from django.contrib.auth.models import AnonymousUser
from django.db.models import Model, Q, QuerySet
from django.utils import timezone

from registry.errors import NotAllowed
from registry.models.base import ClinicalRow
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.patients import Patient, PatientSite
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.rules import roles

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
    answer = {site_id: frozenset(names) for site_id, names in held.items()}
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


def visible(user: Viewer, model: type[AnyModel], action: str = "see_patient") -> QuerySet[Any]:
    """Return the rows of a model that a person may see for an action, at their sites only."""
    sites = site_ids(user, action)
    if model is Site:
        return Site.objects.filter(pk__in=sites)
    if model is Membership:
        return Membership.objects.filter(site_id__in=sites)
    if model in (Patient, Identity, Identifier, AlternativeContact):
        return _patients(model, sites)
    if issubclass(model, ClinicalRow):
        return model.objects.filter(site_id__in=sites)
    if any(field.name == "site" for field in model._meta.fields):
        return model._default_manager.filter(site_id__in=sites)
    return model._default_manager.all() if sites else model._default_manager.none()


def _patients(model: type[Model], sites: list[int]) -> QuerySet[Any]:
    here = PatientSite.objects.filter(site_id__in=sites).values("patient_id")
    if model is Patient:
        return Patient.objects.filter(pk__in=here, merged_into__isnull=True)
    rows = model._default_manager.filter(
        patient_id__in=here, patient__merged_into__isnull=True, patient__voided_at__isnull=True
    )
    return rows.filter(site_id__in=sites) if model is Identifier else rows
