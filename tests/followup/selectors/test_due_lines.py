"""What one line of the Due list says."""

from typing import Any

import pytest

from followup.models import Review
from followup.selectors.due import DueFilter, due_reviews, with_details
from followup.selectors.due_lines import DueRow, lines
from followup.services import contacts
from registry.models import Person
from tests.builders import NOW, TODAY, booked
from tests.followup.listed import due

pytestmark = pytest.mark.usefixtures("defaults")


def line(user: Person) -> DueRow:
    (row,) = lines(list(with_details(due_reviews(user, TODAY, DueFilter()))), TODAY)
    return row


def tried(review: Review, **values: Any) -> None:
    given = {"means": "phone", "outcome": "no_answer", "note": "", **values}
    contacts.record_attempt(review=review, by=review.recorded_by, now=NOW, **given)


def test_a_line_says_what_is_to_be_done_next(coordinator: Person) -> None:
    review = due(phone="1")
    row = line(coordinator)
    assert (row.name, row.next_try.words, row.to_call) == ("Quill, Ada", "phone call now", True)
    assert row.ticked_as == f"{review.pk}:{review.version}"
    tried(review)
    row = line(coordinator)
    assert row.attempts == 1
    assert row.next_try.words.startswith("phone call from 27 Nov 2026, after 1 try")


def test_who_is_booked_is_not_to_be_called(coordinator: Person) -> None:
    booked(due(phone="1"))
    row = line(coordinator)
    assert (row.to_call, row.slot_has_come) == (False, False)
    assert row.slot.startswith("Tue 01 Dec 09:00, ")


def test_who_declined_is_not_to_be_called(coordinator: Person) -> None:
    tried(due(phone="1"), outcome="declined")
    row = line(coordinator)
    assert not row.to_call
    assert row.next_try.words == "said on 25 Nov 2026 that they do not want to come"


def test_tries_about_another_review_are_not_this_ones(coordinator: Person) -> None:
    review = due(phone="1")
    tried(review.procedure.reviews.get(step__code="12m"))
    assert line(coordinator).attempts == 0
