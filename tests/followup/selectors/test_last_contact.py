from datetime import date, datetime, timedelta
from typing import Any

import pytest

from followup.models import Review
from followup.selectors.last_contact import LastContact, last_contacts
from followup.services import completion, contacts
from tests import builders
from tests.builders import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


def operated() -> Any:
    return builders.procedure()


def sites() -> list[int]:
    return [builders.site().pk]


def tried(review: Review, outcome: str, at: datetime) -> None:
    contacts.record_attempt(
        review=review, means="phone", outcome=outcome, note="", by=review.recorded_by, now=at
    )


def test_the_latest_of_a_visit_and_an_answer_counts_and_a_call_in_vain_does_not() -> None:
    operation = operated()
    patient = operation.injury.patient_id
    assert last_contacts([patient], sites()) == {}
    review, other = Review.objects.filter(procedure=operation).order_by("due_on")[:2]
    tried(other, "no_answer", NOW)
    assert last_contacts([patient], sites()) == {}
    completion.attend(
        review=review,
        on=date(2026, 6, 20),
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
    )
    assert last_contacts([patient], sites()) == {
        patient: LastContact(date(2026, 6, 20), "came to a review")
    }
    tried(other, "reached", NOW - timedelta(days=1))
    assert last_contacts([patient], sites())[patient] == LastContact(
        (NOW - timedelta(days=1)).date(), "reached"
    )


def test_asking_costs_the_same_for_many(counted: Any) -> None:
    here = sites()
    few = [operated().injury.patient_id]
    with counted() as one:
        last_contacts(few, here)
    many = few + [operated().injury.patient_id for _ in range(4)]
    with counted() as five:
        last_contacts(many, here)
    assert len(one) == len(five) == 4


def test_how_another_site_reached_somebody_is_not_told() -> None:
    operation = operated()
    patient, south = operation.injury.patient_id, builders.site("south").pk
    tried(Review.objects.filter(procedure=operation).earliest("pk"), "reached", NOW)
    assert last_contacts([patient], [south]) == {}
    assert last_contacts([patient], [south, *sites()])[patient].how == "reached"
