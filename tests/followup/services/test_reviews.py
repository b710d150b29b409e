"""Booking, cancelling, missing, ending and lapsing of reviews."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from followup import notices
from followup.models import Appointment, ClosedDay, Message, Review
from followup.services import delivery, films, reviews
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

# The 6-month window after 5 June 2026 goes from 5 November to 3 February; its due day is 5 December.
TUESDAY = date(2026, 12, 1)
ON_THE_DAY = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)


def review_at(step: str = "6m", **identity: Any) -> Review:
    patient = builders.patient(email="ada@example.invalid", **identity)
    operation = builders.procedure(of=builders.injury(of=patient))
    found: Review = operation.reviews.get(step__code=step)
    return found


def act(do: Callable[..., Any], review: Review, now: datetime = NOW, **values: Any) -> Any:
    given = {"expected_version": review.version, "by": review.recorded_by, "now": now}
    return do(review=review, **{**given, **values})


def lapse(review: Review, today: date) -> int:
    return reviews.lapse_closed(by=review.recorded_by, now=NOW, today=today)


def outbox() -> list[tuple[str, str]]:
    return list(Message.objects.order_by("id").values_list("purpose", "state"))


def send_what_waits() -> None:
    delivery.deliver_waiting(now=NOW)


def test_booking_keeps_a_slot_and_queues_a_message() -> None:
    review = review_at()
    slot = booked(review)
    review.refresh_from_db()
    assert review.state == "booked"
    assert (slot.on, slot.at, slot.state, slot.film_first) == (TUESDAY, time(9), "booked", True)
    assert outbox() == [("appointment_booked", "waiting")]


def test_a_slot_belongs_to_the_surgeon_of_its_clinic() -> None:
    review, surgeon = review_at(), builders.person("selma", north="surgeon")
    assert booked(review, where=builders.clinic(surgeon=surgeon)).surgeon == surgeon


def test_a_step_without_films_asks_for_none_before_the_visit() -> None:
    assert booked(review_at("2w")).film_first is False


def test_booking_again_frees_the_earlier_slot() -> None:
    review, where = review_at(), builders.clinic()
    first = booked(review, where=where)
    second = booked(review, at=time(9, 10), where=where)
    first.refresh_from_db()
    assert (first.state, second.state) == ("cancelled", "booked")
    assert outbox() == [("appointment_booked", "stopped"), ("appointment_booked", "waiting")]
    assert booked(review_at(), at=time(9), where=where).state == "booked"


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"on": date(2026, 12, 2)}, "on", "is not held on a Wednesday"),
        ({"on": date(2026, 11, 24)}, "on", "2026-11-24 is in the past"),
        ({"on": date(2026, 12, 8)}, "on", "The site is closed on 2026-12-08"),
        ({"at": time(9, 5)}, "at", "has no slot at 09:05"),
        ({"at": time(10, 0)}, "at", "has no slot at 10:00"),
    ],
    ids=["wrong weekday", "past day", "closed day", "between slots", "after the last slot"],
)
def test_what_is_no_slot_is_refused_and_nothing_is_saved(
    change: dict[str, Any], field: str, says: str
) -> None:
    review, where = review_at(), builders.clinic(name="Shoulder")
    ClosedDay.objects.create(site=review.site, on=date(2026, 12, 8), reason="moving house")
    with pytest.raises(BadInput) as refused:
        booked(review, **{"where": where, **change})
    assert says in refused.value.faults[field]
    assert Review.objects.get(pk=review.pk).state == "planned"
    assert not Appointment.objects.exists()
    assert not Message.objects.exists()


def test_a_slot_that_is_taken_is_refused_and_the_other_review_keeps_it() -> None:
    first, second, where = review_at(), review_at(), builders.clinic(name="Shoulder")
    kept = booked(first, where=where)
    with pytest.raises(BadInput) as refused:
        booked(second, where=where)
    assert refused.value.faults == {
        "at": "09:00 is taken at Shoulder on 2026-12-01; choose another time."
    }
    assert Review.objects.get(pk=second.pk).state == "planned"
    assert Appointment.objects.get() == kept
    assert booked(second, at=time(9, 10), where=where).state == "booked"


def test_a_refused_change_of_slot_leaves_the_earlier_one() -> None:
    first, second, where = review_at(), review_at(), builders.clinic()
    booked(first, where=where)
    mine = booked(second, at=time(9, 10), where=where)
    with pytest.raises(BadInput):
        booked(second, where=where)
    mine.refresh_from_db()
    assert mine.state == "booked"
    assert outbox() == [("appointment_booked", "waiting")] * 2


@pytest.mark.parametrize(
    ("at", "values", "says"),
    [
        ("south", {}, "is not a clinic of North Hospital"),
        ("north", {"is_active": False}, "is no longer held"),
    ],
)
def test_a_clinic_of_another_site_or_of_the_past_is_refused(
    at: str, values: dict[str, Any], says: str
) -> None:
    review, where = review_at(), builders.clinic(builders.site(at), **values)
    with pytest.raises(BadInput, match=says):
        booked(review, where=where)


def test_booking_over_a_newer_version_is_refused() -> None:
    seen = review_at()
    booked(Review.objects.get(pk=seen.pk))
    with pytest.raises(StaleVersion):
        booked(seen, on=date(2026, 12, 8))
    assert Appointment.objects.get().on == TUESDAY


def test_a_review_that_is_not_needed_cannot_be_booked() -> None:
    review = review_at()
    act(reviews.mark_not_needed, review, reason="lives abroad")
    with pytest.raises(IllegalTransition, match="'not needed' and cannot become 'booked'"):
        booked(review)


def test_cancelling_plans_the_review_again_and_stops_the_message_that_waits() -> None:
    review = review_at()
    booked(review)
    act(reviews.cancel, review)
    assert Review.objects.get(pk=review.pk).state == "planned"
    assert Appointment.objects.get().state == "cancelled"
    assert outbox() == [("appointment_booked", "stopped")]


@pytest.mark.parametrize(
    ("do", "more"),
    [(reviews.cancel, {}), (reviews.mark_not_needed, {"reason": "seen elsewhere"})],
)
def test_a_patient_who_was_told_of_a_slot_is_told_that_it_is_cancelled(
    do: Callable[..., Any], more: dict[str, Any], mailoutbox: list[Any]
) -> None:
    review = review_at()
    booked(review)
    send_what_waits()
    act(do, review, **more)
    assert outbox()[1:] == [("appointment_cancelled", "waiting")]
    send_what_waits()
    assert [letter.subject for letter in mailoutbox] == [
        "Your appointment",
        "Your appointment is cancelled",
    ]


def test_a_review_without_a_slot_cannot_be_cancelled() -> None:
    with pytest.raises(IllegalTransition, match="'planned' and cannot become 'planned'"):
        act(reviews.cancel, review_at())


def test_a_patient_who_did_not_come_is_counted_and_can_be_booked_again() -> None:
    review, where = review_at(), builders.clinic()
    booked(review, where=where)
    act(reviews.miss, review, now=ON_THE_DAY)
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.missed_count) == ("missed", 1)
    assert Appointment.objects.get().state == "missed"
    assert outbox() == [("appointment_booked", "stopped")]
    booked(stands, on=date(2026, 12, 8), where=where)
    act(reviews.miss, stands, now=datetime(2026, 12, 8, 12, 0, tzinfo=UTC))
    assert Review.objects.get(pk=review.pk).missed_count == 2


def test_nobody_can_have_missed_a_slot_before_its_day() -> None:
    review = review_at()
    booked(review)
    with pytest.raises(BadInput, match="2026-12-01; nobody can have missed it yet"):
        act(reviews.miss, review)
    assert Review.objects.get(pk=review.pk).state == "booked"
    assert Appointment.objects.get().state == "booked"


def test_nobody_misses_what_was_not_booked() -> None:
    with pytest.raises(IllegalTransition, match="'planned' and cannot become 'missed'"):
        act(reviews.miss, review_at())


def test_two_who_note_the_same_miss_count_it_once() -> None:
    review = review_at()
    booked(review)
    seen = Review.objects.get(pk=review.pk)
    act(reviews.miss, review, now=ON_THE_DAY)
    with pytest.raises(StaleVersion):
        act(reviews.miss, seen, now=ON_THE_DAY)
    assert Review.objects.get(pk=review.pk).missed_count == 1


def test_a_review_that_is_not_needed_says_why_in_the_row_and_in_the_trail() -> None:
    review, heard = review_at(), []

    def hear(sender: object, review: Review, **kwargs: Any) -> None:
        heard.append(review.pk)

    notices.review_closed.connect(hear)
    booked(review)
    act(reviews.mark_not_needed, review, reason="  followed up at home  ")
    notices.review_closed.disconnect(hear)
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.ended_because) == ("not_needed", "chosen")
    assert stands.ended_reason == "followed up at home"
    assert Appointment.objects.get().state == "cancelled"
    assert heard == [review.pk]
    assert "followed up at home" in AuditEntry.objects.latest("id").reason


def test_a_review_is_not_ended_without_a_reason() -> None:
    review = review_at()
    with pytest.raises(BadInput) as refused:
        act(reviews.mark_not_needed, review, reason="  ")
    assert set(refused.value.faults) == {"reason"}
    assert Review.objects.get(pk=review.pk).state == "planned"


def test_what_has_ended_is_not_ended_again() -> None:
    review = review_at("6w")
    lapse(review, TODAY)
    review.refresh_from_db()
    with pytest.raises(IllegalTransition, match="'lapsed' and cannot become 'not needed'"):
        act(reviews.mark_not_needed, review, reason="too late")


@pytest.mark.parametrize(
    ("today", "state"), [(date(2026, 7, 31), "planned"), (date(2026, 8, 1), "lapsed")]
)
def test_a_review_lapses_on_the_day_after_its_window(today: date, state: str) -> None:
    review = review_at("6w")
    lapse(review, today)
    assert Review.objects.get(pk=review.pk).state == state


def test_a_slot_that_was_neither_kept_nor_missed_is_freed_by_the_lapse() -> None:
    review = review_at("6w")
    booked(review, on=date(2026, 7, 28), today=date(2026, 7, 20))
    lapse(review, date(2026, 8, 1))
    assert Review.objects.get(pk=review.pk).state == "lapsed"
    assert Appointment.objects.get().state == "cancelled"


def test_a_slot_to_come_outside_the_window_keeps_the_review_open() -> None:
    review = review_at("6w")
    booked(review, on=date(2026, 8, 4), today=date(2026, 7, 20))
    lapse(review, date(2026, 8, 4))
    assert Review.objects.get(pk=review.pk).state == "booked"
    lapse(review, date(2026, 8, 5))
    assert Review.objects.get(pk=review.pk).state == "lapsed"


def test_a_film_in_the_window_makes_the_review_attended_instead_of_lapsed() -> None:
    review = review_at("6w")
    films.record_film(
        injury=review.procedure.injury,
        values={"taken_on": date(2026, 7, 20), "view": "zanca"},
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )
    # Lapsed are the two whose windows closed before it with nothing in them.
    assert lapse(review, date(2026, 8, 1)) == 2
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.attended_on) == ("attended", date(2026, 7, 20))
    assert stands.complete is False


def test_lapsing_can_be_kept_to_some_injuries() -> None:
    mine, other = review_at("6w"), review_at("6w")
    reviews.lapse_closed(
        by=mine.recorded_by, now=NOW, today=TODAY, injuries=[mine.procedure.injury_id]
    )
    assert Review.objects.get(pk=mine.pk).state == "lapsed"
    assert Review.objects.get(pk=other.pk).state == "planned"
