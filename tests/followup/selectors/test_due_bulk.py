"""What a preview of several reviews shows."""

from datetime import date, time, timedelta

import pytest

from followup.models import ClosedDay, Message, Review
from followup.selectors import due_bulk as selector
from followup.services import messages
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.listed import TUESDAY, due

pytestmark = pytest.mark.usefixtures("defaults")


def ticked(user: Person, *reviews: Review, action: str = "see_due") -> list[Review]:
    return selector.ticked(user, action, [one.pk for one in reviews], TODAY)


def test_the_ticked_come_in_order_of_urgency_and_only_ones_own(coordinator: Person) -> None:
    calm, foreign = due("Calm"), due("Foreign", site="south")
    hook = due("Hook", construct="HP")
    assert ticked(coordinator, calm, foreign, hook) == [hook, calm]


def test_those_who_are_over_are_shown_too(coordinator: Person) -> None:
    review = due()
    Review.objects.filter(pk=review.pk).update(state="lapsed")
    (row,) = selector.endings_of(ticked(coordinator, review))
    assert (row.what, row.why_not, row.value) == ("", "the review is lapsed already", "")


def test_a_clinic_day_gives_its_free_times_in_order(coordinator: Person) -> None:
    one, other = due("One"), due("Other")
    where = builders.clinic(one.site, slots=2)
    booked(due("Before"), TUESDAY, time(9), where)
    rows, refusal = selector.clinic_day(ticked(coordinator, one, other), where, TUESDAY, TODAY)
    assert refusal == ""
    assert [(row.name, row.what, row.why_not) for row in rows] == [
        ("One, Ada", "Tue 01 Dec 2026 at 09:10", ""),
        ("Other, Ada", "", "no slot of this clinic is left on this day"),
    ]
    assert rows[0].value == f"{one.pk}:{one.version}:09:10"


@pytest.mark.parametrize(
    ("day", "why"),
    [
        (TODAY - timedelta(days=1), "24 Nov 2026 is over."),
        (TUESDAY + timedelta(days=1), "is not held on a Wednesday"),
        (TUESDAY + timedelta(days=7), "is closed on 08 Dec 2026"),
    ],
)
def test_a_day_without_this_clinic_is_said_once_and_for_everybody(
    coordinator: Person, day: date, why: str
) -> None:
    review = due()
    where = builders.clinic(review.site)
    ClosedDay.objects.create(site=review.site, on=TUESDAY + timedelta(days=7), reason="audit")
    rows, refusal = selector.clinic_day(ticked(coordinator, review), where, day, TODAY)
    assert why in refusal
    assert [row.value for row in rows] == [""]


def test_a_preview_of_reminders_says_who_by_what_and_why_not(coordinator: Person) -> None:
    good, taken, silent = due("A", email="a@mail.invalid"), due("B"), due("C", phone="1")
    booked(taken)
    rows = selector.reminders_of(ticked(coordinator, good, taken, silent), TODAY)
    assert {row.name: row.what or row.why_not for row in rows} == {
        "A, Ada": "by e-mail",
        "B, Ada": "is booked on 01 Dec 2026",
        "C, Ada": "has no address for e-mail",
    }


def test_a_reminder_that_was_stopped_does_not_count_as_one() -> None:
    review = due()
    messages.put(
        patient=review.procedure.injury.patient,
        site=review.site,
        purpose="reminder",
        key="one",
        now=NOW,
        review=review,
    )
    assert selector.last_reminders([review.pk]) == {review.pk: TODAY}
    Message.objects.update(state="stopped")
    assert selector.last_reminders([review.pk]) == {}


def test_clinics_to_book_into_are_those_held_at_ones_sites(coordinator: Person) -> None:
    here = builders.clinic(builders.site())
    builders.clinic(builders.site(), is_active=False)
    builders.clinic(builders.site("south"))
    assert list(selector.clinics_for(coordinator)) == [here]
