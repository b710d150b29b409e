"""Tying people to the subject by which the hospital's provider knows them."""

from datetime import datetime

from allauth.socialaccount.models import SocialAccount
from django.conf import settings
from django.db import IntegrityError, transaction

from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.services import audit, sessions, sign_ins

LONGEST = 191


def tie(*, person: Person, subject: str, by: Person | None, now: datetime) -> SocialAccount:
    """Tie a person to a subject of the hospital's provider; `by` is None where the name was enough.

    Raises BadInput without a provider, for an empty subject, for one that is another's, and for
    somebody who is tied already.
    """
    if not settings.SSO_ISSUER:
        raise BadInput("No provider is named in the settings of this service.")
    wanted = subject.strip()
    if not wanted or len(wanted) > LONGEST:
        raise BadInput({"subject": f"Give the provider's subject, at most {LONGEST} characters."})
    if subject_of(person):
        raise BadInput({"subject": f"{person} is tied already; part them first."})
    try:
        with transaction.atomic():
            row = SocialAccount.objects.create(
                user=person, provider=settings.SSO_PROVIDER_ID, uid=wanted
            )
            audit.record_tie(person=person, before="", after=wanted, by=by or person, now=now)
            sign_ins.write_down(SignInEventKind.TIED, person=person, by=by, now=now)
    except IntegrityError as fault:
        raise BadInput({"subject": "Somebody else is tied to this subject."}) from fault
    return row


def part(*, person: Person, by: Person, now: datetime) -> None:
    """Untie a person, whose sessions end; raises BadInput where they are not tied."""
    subject = subject_of(person)
    if not subject:
        raise BadInput(f"{person} is not tied to the hospital's sign-in.")
    with transaction.atomic():
        SocialAccount.objects.filter(user=person, provider=settings.SSO_PROVIDER_ID).delete()
        audit.record_tie(person=person, before=subject, after="", by=by, now=now)
        sign_ins.write_down(SignInEventKind.UNTIED, person=person, by=by, now=now)
        sessions.end_all(person=person, by=by, now=now)


def subject_of(person: Person) -> str:
    """Return the subject that a person is tied to, '' for none."""
    rows = SocialAccount.objects.filter(user=person, provider=settings.SSO_PROVIDER_ID)
    return rows.values_list("uid", flat=True).first() or ""


def untied(username: str) -> Person | None:
    """Return who has a user name and is tied to no subject yet."""
    person = Person.objects.filter(username__iexact=username).first()
    return None if person is None or subject_of(person) else person
