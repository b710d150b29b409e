"""Free slots for a review."""

from collections.abc import Callable
from datetime import date, time
from typing import Any

import pytest

from followup.models import ClosedDay, Review
from followup.selectors.slots import free_slots, times_of
from followup.services import reviews
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")


# The 6-month window after 5 June 2026 goes from 5 November to 3 February; its due day, a Saturday,
# is 5 December, and its proposed day a weekday beside it.
def review_at(step: str = "6m") -> Review:
    found: Review = builders.procedure().reviews.get(step__code=step)
    return found


def days(review: Review, today: date = TODAY) -> list[date]:
    return [slot.on for slot in free_slots(review, today)]


def test_a_clinic_has_its_slots_one_after_the_other() -> None:
    row = builders.clinic(starts_at=time(13, 30), slots=3, slot_minutes=20)
    assert times_of(row) == [time(13, 30), time(13, 50), time(14, 10)]


def test_the_days_of_the_clinic_come_nearest_to_the_proposed_day_first() -> None:
    review = review_at()
    builders.clinic()
    found = days(review)
    away = [abs((day - review.proposed_on).days) for day in found if day <= review.closes_on]
    assert away == sorted(away)
    assert found[0] == date(2026, 12, 1)
    assert {day.weekday() for day in found} == {1}
    assert min(found) == date(2026, 12, 1)


def test_no_day_in_the_past_is_offered() -> None:
    review = review_at()
    builders.clinic()
    assert min(days(review, date(2026, 12, 2))) == date(2026, 12, 8)


def test_no_day_before_the_window_is_offered() -> None:
    review = review_at("12m")
    builders.clinic()
    assert min(days(review)) >= review.opens_on


def test_days_outside_the_window_come_last_and_say_so() -> None:
    review = review_at("3m")
    builders.clinic(name="Shoulder")
    found = free_slots(review, date(2026, 9, 20))
    assert [slot.inside_window for slot in found[:2]] == [True, False]
    assert found[1].label == ("Tue 29 Sep 2026 09:00, Shoulder (6 free, outside the window)")


def test_a_closed_day_is_not_offered() -> None:
    review = review_at()
    builders.clinic()
    ClosedDay.objects.create(site=review.site, on=date(2026, 12, 1), reason="moving house")
    assert date(2026, 12, 1) not in days(review)


@pytest.mark.parametrize(
    ("at", "values"), [("south", {}), ("north", {"is_active": False})], ids=["theirs", "closed"]
)
def test_a_clinic_of_another_site_or_of_the_past_is_not_offered(
    at: str, values: dict[str, Any]
) -> None:
    review = review_at()
    builders.clinic(builders.site(at), **values)
    assert free_slots(review, TODAY) == []


def test_the_first_free_time_is_offered_with_how_many_are_left() -> None:
    review, where = review_at(), builders.clinic(name="Shoulder")
    booked(review_at(), where=where)
    booked(review_at(), at=time(9, 20), where=where)
    (slot,) = (one for one in free_slots(review, TODAY) if one.on == date(2026, 12, 1))
    assert (slot.at, slot.free) == (time(9, 10), 4)
    assert slot.label == "Tue 01 Dec 2026 09:10, Shoulder (4 free)"
    assert slot.value == f"{where.pk}|2026-12-01|09:10"


def test_a_full_day_is_not_offered_and_a_cancelled_slot_is_free_again() -> None:
    review, where = review_at(), builders.clinic(slots=1)
    other = review_at()
    booked(other, where=where)
    assert date(2026, 12, 1) not in days(review)
    reviews.cancel(review=other, expected_version=other.version, by=other.recorded_by, now=NOW)
    assert date(2026, 12, 1) in days(review)


def test_no_more_are_offered_than_asked_for() -> None:
    review = review_at()
    builders.clinic()
    assert len(free_slots(review, TODAY, most=3)) == 3


def test_the_queries_do_not_grow_with_the_slots_that_are_taken(
    counted: Callable[[], Any],
) -> None:
    review, where = review_at(), builders.clinic()
    with counted() as none:
        free_slots(review, TODAY)
    for minute in (0, 10, 20):
        booked(review_at(), at=time(9, minute), where=where)
    with counted() as some:
        free_slots(review, TODAY)
    assert len(none) == len(some) == 3
