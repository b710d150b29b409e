"""Reminders by each site's plan: the right ones, once, however often and by how many it runs."""

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from followup.models import Message, Review
from followup.services import reminders
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.many import copies
from tests.outbox import died, followed, policy, run

pytestmark = pytest.mark.usefixtures("defaults")


def opened(days_ago: int, **identity: Any) -> Review:
    """Return a review whose window opened so many days ago."""
    review = followed(**identity)
    Review.objects.filter(procedure=review.procedure).exclude(pk=review.pk).update(
        opens_on=TODAY + timedelta(days=100),
        due_on=TODAY + timedelta(days=100),
        proposed_on=TODAY + timedelta(days=100),
        closes_on=TODAY + timedelta(days=110),
    )
    opens_on = TODAY - timedelta(days=days_ago)
    Review.objects.filter(pk=review.pk).update(
        opens_on=opens_on,
        due_on=opens_on + timedelta(days=7),
        proposed_on=opens_on + timedelta(days=7),
        closes_on=opens_on + timedelta(days=60),
    )
    review.refresh_from_db()
    return review


def plan(on: date = TODAY) -> int:
    return reminders.plan_reminders(now=NOW + (on - TODAY), today=on)


def test_a_review_that_nobody_booked_is_reminded_of_by_the_plan(mailoutbox: list[Any]) -> None:
    review = opened(2)
    put = [plan(TODAY + timedelta(days=ahead)) for ahead in range(30)]
    assert [day for day, number in enumerate(put) if number] == [1, 8]
    assert list(Message.objects.values_list("key", "number")) == [
        (f"reminder:{review.pk}:1", 1),
        (f"reminder:{review.pk}:2", 2),
    ]


@pytest.mark.parametrize(
    ("zone", "quiet_from"),
    [
        ("Europe/London", "21:00"),
        # Where it is still the evening before when reminders are planned.
        ("America/New_York", "20:00"),
        ("Pacific/Auckland", "21:00"),
    ],
)
def test_reminders_planned_at_night_keep_the_days_of_the_plan(
    zone: str, quiet_from: str, mailoutbox: list[Any]
) -> None:
    builders.site("far", time_zone=zone)
    review = opened(0, site="far")
    quiet = {"email_quiet_from": quiet_from, "email_quiet_until": "08:00"}
    policy("far", reminder_count=3, **quiet)
    service = ZoneInfo("Europe/London")
    for ahead in range(25):
        today = TODAY + timedelta(days=ahead)
        planned = datetime.combine(today, time(1, 40), tzinfo=service)
        reminders.plan_reminders(now=planned, today=today)
        run(planned + timedelta(minutes=1))
        run(datetime.combine(today, time(8), tzinfo=ZoneInfo(zone)))
    went = Message.objects.filter(state="sent").order_by("sent_at")
    days = [message.sent_at.astimezone(ZoneInfo(zone)).date() for message in went]
    assert [(day - review.opens_on).days for day in days] == [3, 10, 17]
    assert len(mailoutbox) == 3


def test_planning_twice_equals_planning_once() -> None:
    opened(3)
    assert (plan(), plan()) == (1, 0)
    assert Message.objects.count() == 1


def test_after_missed_nights_the_last_reminder_goes_and_not_every_one() -> None:
    review = opened(30)
    assert (plan(), plan(TODAY + timedelta(days=1))) == (1, 0)
    assert Message.objects.get().key == f"reminder:{review.pk}:2"


def test_who_was_reminded_by_hand_of_late_is_left_alone() -> None:
    review = opened(5)
    Message.objects.create(
        site=review.site,
        patient=review.procedure.injury.patient,
        review=review,
        purpose="reminder",
        key="by hand",
        wanted_at=NOW - timedelta(days=1),
    )
    assert plan() == 0
    assert plan(TODAY + timedelta(days=6)) == 1


def test_nobody_is_reminded_of_what_is_booked_closed_or_over() -> None:
    booked(opened(5))
    shut = opened(5)
    Review.objects.filter(pk=shut.pk).update(
        closes_on=TODAY - timedelta(days=1), proposed_on=shut.opens_on, due_on=shut.opens_on
    )
    ended = opened(5)
    message = Message.objects.latest("id")
    message.patient = ended.procedure.injury.patient
    died(message)
    Message.objects.all().delete()
    assert plan() == 0


def test_a_site_that_wants_no_reminders_gets_none() -> None:
    opened(5)
    policy(reminder_count=0)
    assert plan() == 0


def test_each_site_has_its_own_plan() -> None:
    opened(5, site="north")
    builders.site("south")
    opened(5, site="south")
    policy("south", reminder_first_day=10)
    assert plan() == 1
    assert Message.objects.get().site.code == "north"


def test_booked_between_planning_and_sending_sends_nothing(mailoutbox: list[Any]) -> None:
    review = opened(5)
    plan()
    booked(review)
    run()
    assert [letter.subject for letter in mailoutbox] == ["Your appointment"]


def test_many_reviews_are_planned_piece_by_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    review = opened(5)
    injuries = copies(review.procedure.injury, 25)
    operations = copies(review.procedure, 25, injury=lambda number: injuries[number])
    copies(review, 25, procedure=lambda number: operations[number])
    monkeypatch.setattr(reminders, "AT_ONCE", 10)
    assert plan() == 26
    assert Message.objects.values("key").distinct().count() == 26
    assert plan() == 0
