"""Sites, people, roles and construct types: how the service is set up."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

from django.db.models import Model

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models.constructs import ConstructType
from registry.models.people import Person
from registry.models.sites import Membership, Role, Site
from registry.services import passwords, records, sessions

Versioned = TypeVar("Versioned", bound=Model)


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
    *,
    site: Site,
    values: Mapping[str, Any],
    expected_version: int,
    by: Person | None,
    now: datetime,
    today: date,
) -> Site:
    """Add a site, or change one over the version that the user saw.

    Raises StaleVersion when somebody changed it first, BadInput when a value cannot be taken or
    what the site does needs it otherwise.
    """
    with records.change(by=by):
        saved = save_versioned(site, values, expected_version=expected_version, by=by)
        notices.site_saved.send(Site, site=saved, by=by, now=now, today=today)
    return saved


def save_construct_type(
    *, row: ConstructType, values: Mapping[str, Any], expected_version: int, by: Person | None
) -> ConstructType:
    """Add a construct type, or change one over the version that the user saw.

    Raises StaleVersion when somebody changed it first.
    """
    return save_versioned(row, values, expected_version=expected_version, by=by)


def add_site(*, values: Mapping[str, Any], by: Person, now: datetime, today: date) -> Site:
    """Add a site; whoever adds it administers it from today, so that it can be set up further."""
    with records.change(by=by):
        site = save_site(
            site=Site(), values=values, expected_version=1, by=by, now=now, today=today
        )
        grant_role(person=by, site=site, role=Role.ADMINISTRATOR, starts_on=today, by=by)
    return site


def open_site(
    *,
    values: Mapping[str, Any],
    administrator: Person | Mapping[str, Any],
    now: datetime,
    today: date,
) -> Site:
    """Add a site with its first administrator: somebody who is there, or what makes a new person.

    For the machine's operator alone: under Setup a site is added by whoever administers one already.

    Raises BadInput when a value cannot be taken, or the person may not sign in.
    """
    with records.change(by=None, reason="a site and its administrator, from the command line"):
        if isinstance(administrator, Person):
            somebody = administrator
            if not somebody.is_active:
                raise BadInput({"username": f"{somebody} may not sign in; name somebody else."})
        else:
            somebody = add_person(**administrator, by=None)
        return add_site(values=values, by=somebody, now=now, today=today)


def add_person(
    *,
    username: str,
    shown_name: str,
    email: str,
    password: str,
    first_role: tuple[Site, str, date] | None = None,
    by: Person | None,
) -> Person:
    """Add somebody who may sign in; what they may do comes from their memberships.

    A password that another person gave is changed at the first sign-in.

    Raises BadInput when the user name is taken.
    """
    if Person.objects.filter(username__iexact=username).exists():
        raise BadInput({"username": f"'{username}' is taken; choose another user name."})
    with records.change(by=by):
        person = Person.objects.create_user(
            username=username,
            email=email,
            password=password,
            shown_name=shown_name,
            must_change_password=by is not None and bool(password),
        )
        if first_role is not None:
            site, role, starts_on = first_role
            grant_role(person=person, site=site, role=role, starts_on=starts_on, by=by)
    return person


def person_named(username: str) -> Person:
    """Return the person with a user name.

    Raises BadInput when there is none.
    """
    somebody = Person.objects.filter(username__iexact=username.strip()).first()
    if somebody is None:
        raise BadInput({"username": f"Nobody is called '{username}' here; add them as a person."})
    return somebody


def change_person(
    *,
    person: Person,
    shown_name: str,
    email: str,
    is_active: bool,
    password: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> Person:
    """Change how somebody is shown and reached, whether they may sign in, and the password if given.

    Such a password is changed when they sign in with it. Who gets one, or may not sign in any more, is
    out at once: sessions end and tokens are revoked.

    Raises StaleVersion when somebody changed them first, BadInput when an administrator shuts
    themselves out or gives themself a password, or nobody would be left to administer a site.
    """
    if person.pk == by.pk and not is_active:
        raise BadInput({"is_active": "You cannot take your own sign-in away; ask a colleague."})
    wanted = {"shown_name": shown_name, "email": email, "is_active": is_active}
    # Only what changes is written: a hash or a sign-in that was read is not put back over a newer one.
    written = {name: value for name, value in wanted.items() if getattr(person, name) != value}
    if password:
        passwords.give_password(person=person, password=password, by=by)
        written.update(password=person.password, must_change_password=True)
    with records.change(by=by):
        if not is_active:
            _leave_to_others(person)
        standing = Person.objects.filter(pk=person.pk, version=expected_version)
        if not standing.update(**written, version=expected_version + 1):
            current = Person.objects.values_list("version", flat=True).get(pk=person.pk)
            raise StaleVersion(str(person), expected=expected_version, current=current)
        if password or not is_active:
            sessions.shut_out(person=person, by=by, now=now)
    person.refresh_from_db()
    return person


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

    Raises BadInput when the day is before the start, or when nobody would administer the site any
    more.
    """
    if on < membership.starts_on:
        raise BadInput({"ends_on": f"The role began on {membership.starts_on}; end it later."})
    with records.change(by=by):
        if membership.role == Role.ADMINISTRATOR:
            _hold_administration([membership.site_id])
            if not _another_administrator(membership):
                raise BadInput({"ends_on": _nobody_else(membership.site)})
        membership.ends_on = on
        membership.save(update_fields=["ends_on"])
    return membership


def save_versioned(
    row: Versioned, values: Mapping[str, Any], *, expected_version: int, by: Person | None
) -> Versioned:
    """Add a row of the set-up that has a version, or change one over the version that was seen.

    Raises StaleVersion when somebody changed it first, BadInput when a value cannot be taken.
    """
    model: Any = type(row)
    with records.change(by=by):
        if row.pk is not None:
            taken = model.objects.filter(pk=row.pk, version=expected_version).update(
                version=expected_version + 1
            )
            if not taken:
                current = model.objects.values_list("version", flat=True).get(pk=row.pk)
                raise StaleVersion(str(row), expected=expected_version, current=current)
            row.version = expected_version + 1  # type: ignore[attr-defined]
        for name, value in values.items():
            setattr(row, name, value)
        records.check(row)
        row.save()
    return row


def _leave_to_others(person: Person) -> None:
    """Hold the sites that somebody administers. Raises BadInput where nobody else does."""
    held = person.memberships.filter(role=Role.ADMINISTRATOR, ends_on__isnull=True)
    roles = list(held.select_related("site").order_by("site_id"))
    _hold_administration([role.site_id for role in roles])
    for role in roles:
        if not _another_administrator(role):
            raise BadInput({"is_active": _nobody_else(role.site)})


def _hold_administration(site_ids: Sequence[int]) -> None:
    # Two who shut each other out at once would each count on the other to stay.
    sites = Site.objects.select_for_update(no_key=True).filter(pk__in=site_ids)
    list(sites.order_by("pk").values_list("pk", flat=True))


def _nobody_else(site: Site) -> str:
    return f"Nobody else administers {site}; give the role away first."


def _another_administrator(membership: Membership) -> bool:
    return (
        Membership.objects.filter(
            site=membership.site,
            role=Role.ADMINISTRATOR,
            ends_on__isnull=True,
            person__is_active=True,
        )
        .exclude(pk=membership.pk)
        .exists()
    )
