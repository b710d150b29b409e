"""How patients may be reached, and from when tries count."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from followup.models import ContactPolicy, Review
from followup.rules.contact import Policy, Try, Verdict
from followup.selectors.contacts import contacts_of, for_reviews, policies, zones_of
from followup.services import contacts
from registry.models import AlternativeContact, Identity
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.listed import due

pytestmark = pytest.mark.usefixtures("defaults")


def tried(review: Review, days_ago: int, outcome: str = "no_answer") -> None:
    contacts.record_attempt(
        review=review,
        means="phone",
        outcome=outcome,
        note="",
        by=review.recorded_by,
        now=NOW - timedelta(days=days_ago),
    )


def days(review: Review) -> list[date]:
    known, _ = for_reviews([review], TODAY)
    return [one.on for one in known[review.pk].reach.tries]


def test_the_ways_are_those_of_the_identity_and_the_others() -> None:
    review = due(phone="1", other_contact_name="Imre", preferred_means="letter")
    patient = review.procedure.injury.patient
    AlternativeContact.objects.create(patient=patient, name="Wenche", relation="", phone="2")
    known, proposals = for_reviews([review], TODAY)
    reach = known[review.pk].reach
    assert reach.available == {"phone", "text", "other_person"}
    assert known[review.pk].others == ("Imre", "Wenche, 2")
    assert proposals[review.pk].means == "phone"


def test_tries_count_since_the_patient_was_heard_of() -> None:
    review = due(phone="1")
    tried(review, 9)
    tried(review, 6, "reached")
    tried(review, 2)
    assert days(review) == [TODAY - timedelta(days=2)]


def test_tries_count_since_the_patient_came() -> None:
    review = due(phone="1")
    tried(review, 9)
    tried(review, 2)
    review.procedure.reviews.filter(step__code="3m").update(
        state="attended", attended_on=TODAY - timedelta(days=5)
    )
    known, _ = for_reviews([review], TODAY)
    assert known[review.pk].reach.heard_on == TODAY - timedelta(days=5)
    assert known[review.pk].reach.tries == (Try(TODAY - timedelta(days=2), "phone", "no_answer"),)


def test_tries_count_since_a_contact_was_new() -> None:
    review = due(phone="1")
    tried(review, 9)
    Identity.objects.update(contacts_changed_at=NOW - timedelta(days=5))
    tried(review, 2)
    assert days(review) == [TODAY - timedelta(days=2)]


def test_who_declined_one_review_is_asked_about_the_next() -> None:
    review = due(phone="1")
    tried(review, 3, "declined")
    later = review.procedure.reviews.get(step__code="12m")
    _, proposals = for_reviews([review, later], TODAY)
    assert proposals[review.pk].verdict is Verdict.STOPPED
    assert proposals[later.pk].verdict is Verdict.TRY


def test_the_latest_decision_about_contact_counts() -> None:
    review = due(phone="1")
    patient = review.procedure.injury.patient
    for decision, day in (("opted_out", 3), ("given", 2), ("opted_out", 1)):
        patients.add_consent(
            patient=patient,
            site=review.site,
            given=ConsentGiven("contact", decision, TODAY - timedelta(days=day), "rang"),
            by=review.recorded_by,
            now=NOW,
            today=TODAY,
        )
    _, proposals = for_reviews([review], TODAY)
    assert proposals[review.pk].words == "does not want to be contacted"


def test_the_day_of_a_try_is_the_sites() -> None:
    site = builders.site("north", time_zone="Pacific/Auckland")
    review = due(phone="1")
    contacts.record_attempt(
        review=review,
        means="phone",
        outcome="no_answer",
        note="",
        by=review.recorded_by,
        now=datetime(2026, 11, 20, 13, tzinfo=UTC),
    )
    pair = (review.procedure.injury.patient_id, site.pk)
    found = contacts_of([pair], zones_of([site]))
    assert found[pair].reach.tries[0].on == date(2026, 11, 21)


def test_a_site_without_its_own_policy_has_the_shipped_one() -> None:
    north, south = builders.site("north"), builders.site("south")
    ContactPolicy.objects.create(site=south, attempts=3, means=1)
    assert policies([north.pk, south.pk]) == {
        north.pk: Policy(),
        south.pk: Policy(attempts=3, means=1),
    }


def test_the_queries_do_not_grow_with_the_reviews(django_assert_max_num_queries: Any) -> None:
    for _ in range(5):
        due(phone="1")
    reviews = list(Review.objects.select_related("site", "procedure__injury"))
    with django_assert_max_num_queries(6):
        for_reviews(reviews, TODAY)
