"""A site that asks its patients at home, one of them invited, and a phone in their hand."""

from datetime import timedelta
from typing import Any

from django.db import connection
from django.test import Client
from django.urls import reverse

from followup.models import Invitation, QuestionnaireSetup, Review, UrgentAdvice, Wording
from followup.rules import wordings
from followup.services import invitations
from registry.models import Procedure, Site
from tests import builders
from tests.builders import NOW, TODAY

ADVICE = "Ring us at once on 0555 010 2000; at night go to the emergency department."
RAT = "Rufen Sie sofort an: 0555 010 2000; nachts gehen Sie in die Notaufnahme."
TELEPHONE = "0555 010 2000"
NUMBERS = range(1, 12)
BY_MAIL = {"email": "ada@example.invalid", "preferred_means": "email"}
# Invented words: the instrument's own are licensed and not ours to write down.
PASTED = "\n".join(f"{number}. Invented task {number}" for number in NUMBERS)
PASTED = PASTED.replace("task 1\n", "task 1\neasy\nmild\nmiddling\nhard\nnot at all\n", 1)


def site_that_asks(code: str = "north", **values: Any) -> Site:
    """Return a site that invites in English and German."""
    site = builders.site(code)
    site.telephone = TELEPHONE
    site.save(update_fields=["telephone"])
    QuestionnaireSetup.objects.get_or_create(site=site, defaults={"invites": True, **values})
    for language, text in (("en", ADVICE), ("de", RAT)):
        UrgentAdvice.objects.get_or_create(
            site=site, language=language, number=1, defaults={"text": text, "made_at": NOW}
        )
    return site


def wording(site: Site, instrument: str = "quickdash", language: str = "en") -> Wording:
    """Return words of a licensed instrument that a site has in use; they are invented."""
    items = wordings.parse(PASTED, wordings.ITEM_FORMS[instrument])
    return Wording.objects.create(
        site=site,
        instrument=instrument,
        language=language,
        number=1,
        edition="invented edition",
        licence_note="invented licence",
        items=wordings.kept(items),
        in_use=True,
        made_at=NOW,
    )


def operated(days_ago: int = 180, code: str = "north", **identity: Any) -> Procedure:
    """Return an operation of so many days ago at a site that asks."""
    whose = builders.patient(site_that_asks(code), **{**BY_MAIL, **identity})
    day = TODAY - timedelta(days=days_ago)
    hurt = builders.injury(whose, injured_earliest=day, injured_latest=day)
    return builders.procedure(hurt, performed_on=day)


def review_now(procedure: Procedure) -> Review:
    """Return the review of an operation whose window holds today."""
    found: Review = procedure.reviews.get(opens_on__lte=TODAY, closes_on__gte=TODAY)
    return found


def invited(days_ago: int = 180, code: str = "north", **identity: Any) -> tuple[Invitation, str]:
    """Return an invitation about a review whose window holds today, and the address of its link."""
    procedure = operated(days_ago, code, **identity)
    by = procedure.recorded_by
    invitation, link = invitations.hand_over(review=review_now(procedure), by=by, now=NOW)
    return invitation, "/q/" + link.rsplit("/q/", 1)[1]


def phone(address: str) -> Client:
    """Return the browser of a patient who has opened a link."""
    client = Client()
    answer = client.get(address)
    assert answer.status_code == 302
    return client


def post(client: Client, page: str, **given: str) -> Any:
    """Send one page and return what is shown next."""
    return client.post(reverse("questionnaire"), {"page": page, **given}, follow=True)


def dumped() -> str:
    """Return all that the database holds, as text."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            found += [repr(row) for row in cursor.fetchall()]
    return "\n".join(found)
