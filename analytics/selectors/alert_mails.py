"""Who is told of alerts by e-mail, how often they want to be, and what did not go to them."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db.models import Q

from analytics.models.alert_mails import AlertMail, AlertMailChoice, MailChoice, MailState
from registry.models.people import Person
from registry.models.sites import Membership, Role, Site

NOT_GONE = (MailState.FAILED, MailState.UNKNOWN)
TOLD_DAYS = 14


def surgeons_in_office(site: Site, today: date) -> dict[int, Person]:
    """Return the active surgeons of a site on a day, by their keys."""
    held = Membership.objects.filter(
        Q(ends_on__isnull=True) | Q(ends_on__gte=today),
        site=site,
        role=Role.SURGEON,
        starts_on__lte=today,
    )
    return Person.objects.filter(is_active=True, pk__in=held.values("person")).in_bulk()


def choices_of(people: Iterable[int]) -> dict[int, str]:
    """Return how often each of some people wants to be told; at once where they never chose."""
    ids = list(people)
    chosen = AlertMailChoice.objects.filter(person__in=ids).values_list("person_id", "choice")
    return {**dict.fromkeys(ids, MailChoice.EACH.value), **dict(chosen)}


def choice_of(person: Person) -> AlertMailChoice:
    """Return a person's choice; one that was never saved has version 0."""
    found = AlertMailChoice.objects.filter(person=person).first()
    return found if found is not None else AlertMailChoice(person=person, version=0)


def not_gone(person: Person, now: datetime) -> int:
    """Return how many e-mails to a person of late did not go, or nobody knows whether they went."""
    since = now - timedelta(days=TOLD_DAYS)
    rows = AlertMail.objects.filter(person=person, state__in=NOT_GONE, wanted_at__gte=since)
    return rows.count()
