"""What the days of a site's clinics hold."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import ClosedDay, Review
from followup.selectors.clinic_room import Room, clinics_of, room_of, unbooked
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.waiting import TUESDAY, waiting

pytestmark = pytest.mark.django_db
LAST = date(2027, 1, 31)


def room(today: date = TODAY) -> Room:
    return room_of(builders.site().pk, today, LAST)


def test_a_day_holds_the_slots_of_its_clinics_less_the_booked() -> None:
    one, two = builders.clinic(slots=4), builders.clinic(slots=2)
    booked(waiting(), where=one)
    assert room().days()[:2] == [TUESDAY, TUESDAY + timedelta(weeks=1)]
    assert (room().slots(TUESDAY), room().free(TUESDAY)) == (6, 5)
    assert [plan.key for plan in room().held_on(TUESDAY)] == [one.pk, two.pk]


def test_a_closed_day_holds_nothing_and_who_is_proposed_for_it_is_nowhere() -> None:
    builders.clinic()
    ClosedDay.objects.create(site=builders.site(), on=TUESDAY, reason="moving house")
    waiting()
    waiting(TUESDAY + timedelta(days=1))
    assert (room().slots(TUESDAY), room().free(TUESDAY), room().waits(TUESDAY)) == (0, 0, 0)
    assert TUESDAY not in room().days()
    assert room().nowhere == {TUESDAY: 1, TUESDAY + timedelta(days=1): 1}


def test_who_waits_counts_on_the_proposed_day_until_booked() -> None:
    clinic = builders.clinic(slots=3)
    first, _ = waiting(), waiting()
    assert (room().waits(TUESDAY), room().left(TUESDAY)) == (2, 1)
    booked(first, where=clinic)
    assert (room().waits(TUESDAY), room().free(TUESDAY), room().left(TUESDAY)) == (1, 2, 1)
    assert room().by_clinic(TUESDAY) == {clinic.pk: 1}


def test_a_clinic_no_longer_held_has_no_slots() -> None:
    builders.clinic(is_active=False)
    assert room().days() == []
    assert clinics_of(builders.site().pk).count() == 1


def test_a_passed_proposal_counts_on_the_next_clinic_day_of_its_window() -> None:
    builders.clinic()
    past = TODAY - timedelta(days=2)
    caught, lost = waiting(past, after=20), waiting(past, after=4)
    assert room().waits(TUESDAY) == 1
    assert room().nowhere == {TODAY: 1}
    assert room().counted_on(caught.proposed_on, caught.closes_on) == TUESDAY
    assert room().counted_on(lost.proposed_on, lost.closes_on) is None
    assert room().counted_on(TUESDAY, TUESDAY) == TUESDAY
    assert room().counted_on(TODAY, TUESDAY) is None


def test_only_those_who_still_come_wait_for_a_slot() -> None:
    reviews = [waiting() for _ in range(3)]
    missed = waiting(state="missed", missed_count=1)
    waiting(TODAY - timedelta(days=30))
    elsewhere = waiting(at=builders.site("south"))
    patient = reviews[0].procedure.injury.patient
    patients.change_status(
        patient=patient,
        status="died",
        note="",
        on=TODAY,
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    booked(reviews[1])
    found = unbooked(builders.site().pk, TODAY)
    assert set(found) == {reviews[2], missed}
    assert set(unbooked(elsewhere.site_id, TODAY)) == {elsewhere}
    assert not unbooked(builders.site().pk, TODAY, Review.objects.filter(site=elsewhere.site))


def test_the_room_costs_the_same_for_few_reviews_and_for_many(counted: Callable[[], Any]) -> None:
    builders.clinic()
    waiting()
    site_id = builders.site().pk
    with counted() as few:
        room_of(site_id, TODAY, LAST)
    for _ in range(5):
        waiting()
    with counted() as more:
        room_of(site_id, TODAY, LAST)
    assert len(few) == len(more) == 5
