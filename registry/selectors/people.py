"""People by their roles at a site."""

from django.db.models import Prefetch, QuerySet

from registry.models.people import Person
from registry.models.sites import Membership, Role, Site
from registry.selectors.visible import Viewer, not_ended, visible


def surgeons_at(site: Site) -> QuerySet[Person]:
    """Return those who are or were surgeons at a site: an operation may lie years back."""
    there = Membership.objects.filter(site=site, role=Role.SURGEON).values("person_id")
    return Person.objects.filter(pk__in=there)


def people_here(user: Viewer) -> QuerySet[Person]:
    """Return the people with a role, past or present, at a site that the user sets up."""
    theirs = visible(user, Membership, "set_up").select_related("site")
    return (
        Person.objects.filter(pk__in=theirs.values("person_id"))
        .prefetch_related(Prefetch("memberships", queryset=theirs, to_attr="roles_here"))
        .order_by("shown_name", "username")
    )


def wholly_here(user: Viewer, person: Person) -> bool:
    """Say whether every role that a person has, or is yet to have, is at a site that the user sets up.

    Only then may the user change the person's sign-in: it opens every site of theirs.
    """
    mine = visible(user, Site, "set_up")
    return not (
        Membership.objects.filter(person=person).filter(not_ended()).exclude(site__in=mine).exists()
    )
