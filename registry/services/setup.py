"""Sites, people, roles and construct types: how the service is set up."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, TypeVar

from registry.errors import BadInput, StaleVersion
from registry.models.constructs import ConstructType
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.services import records

Versioned = TypeVar("Versioned", Site, ConstructType)


def load_construct_types(rows: Iterable[Mapping[str, Any]]) -> int:
    """Add the shipped construct types that are not there yet; return how many were added.

    What a service has changed is left alone.
    """
    added = 0
    with records.change(by=None, reason="shipped construct types"):
        for row in rows:
            _, new = ConstructType.objects.get_or_create(
                code=row["code"], defaults={k: v for k, v in row.items() if k != "code"}
            )
            added += new
    return added


def save_site(
    *, site: Site, values: Mapping[str, Any], expected_version: int, by: Person | None
) -> Site:
    """Add a site, or change one over the version that the user saw.

    Raises StaleVersion when somebody changed it first.
    """
    return _save(site, values, expected_version, by)


def save_construct_type(
    *, row: ConstructType, values: Mapping[str, Any], expected_version: int, by: Person | None
) -> ConstructType:
    """Add a construct type, or change one over the version that the user saw.

    Raises StaleVersion when somebody changed it first.
    """
    return _save(row, values, expected_version, by)


def add_person(
    *, username: str, shown_name: str, email: str, password: str, by: Person | None
) -> Person:
    """Add somebody who may sign in; what they may do comes from their memberships.

    Raises BadInput when the user name is taken.
    """
    if Person.objects.filter(username__iexact=username).exists():
        raise BadInput({"username": f"'{username}' is taken; choose another user name."})
    with records.change(by=by):
        return Person.objects.create_user(
            username=username, email=email, password=password, shown_name=shown_name
        )


def grant_role(
    *, person: Person, site: Site, role: str, starts_on: date, by: Person | None
) -> Membership:
    """Give a person a role at a site; giving it twice changes nothing."""
    with records.change(by=by):
        return Membership.objects.get_or_create(
            person=person, site=site, role=role, ends_on=None, defaults={"starts_on": starts_on}
        )[0]


def end_role(*, membership: Membership, on: date, by: Person) -> Membership:
    """End a role on a day; the membership stays as history.

    Raises BadInput when the day is before the start.
    """
    if on < membership.starts_on:
        raise BadInput({"ends_on": f"The role began on {membership.starts_on}; end it later."})
    with records.change(by=by):
        membership.ends_on = on
        membership.save(update_fields=["ends_on"])
    return membership


def _save(
    row: Versioned, values: Mapping[str, Any], expected_version: int, by: Person | None
) -> Versioned:
    model: Any = type(row)
    with records.change(by=by):
        if row.pk is not None:
            taken = model.objects.filter(pk=row.pk, version=expected_version).update(
                version=expected_version + 1
            )
            if not taken:
                current = model.objects.values_list("version", flat=True).get(pk=row.pk)
                raise StaleVersion(str(row), expected=expected_version, current=current)
            row.version = expected_version + 1
        for name, value in values.items():
            setattr(row, name, value)
        records.check(row)
        row.save()
    return row
