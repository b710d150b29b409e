"""What was collected inside a window, and whether that completes its review."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Appointment, Message, Review
from followup.rules.requirements import Present, Wanted
from followup.services import completion, complications, delivery, films, motion, scores
from registry.errors import IllegalTransition, StaleVersion
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

# The 6-week window after 5 June 2026 goes from 3 to 31 July.
OPENS, DAY, CLOSES, AFTER = (
    date(2026, 7, 3),
    date(2026, 7, 17),
    date(2026, 7, 31),
    date(2026, 8, 4),
)


def review_at(step: str = "6w") -> Review:
    found: Review = builders.procedure().reviews.get(step__code=step)
    return found


def given(review: Review) -> dict[str, Any]:
    return {"by": review.recorded_by, "now": NOW, "today": TODAY}


def film(review: Review, on: date = DAY, view: str = "zanca", *, both: bool = True) -> None:
    values = {"taken_on": on, "view": view, "shows_both_sides": both}
    films.record_film(injury=review.procedure.injury, values=values, **given(review))


def moved(review: Review, on: date = DAY) -> None:
    values = {"examined_on": on, "side": "left", "mode": "active", "flexion_deg": 120}
    motion.record_motion(injury=review.procedure.injury, values=values, **given(review))


def scored(review: Review, instrument: str, on: date = DAY) -> None:
    scores.record_score(
        injury=review.procedure.injury,
        instrument=instrument,
        taken_on=on,
        total=3.0,
        **given(review),
    )


def complicated(review: Review, on: date) -> None:
    complications.record_complication(
        procedure=review.procedure,
        values={"kind": "stiffness", "detected_on": on},
        **given(review),
    )


def attend(review: Review, on: date = DAY) -> Review:
    return completion.attend(
        review=review, on=on, expected_version=review.version, by=review.recorded_by, now=NOW
    )


def test_a_review_wants_what_its_step_asks_for() -> None:
    assert completion.wanted_by(review_at()) == Wanted(
        film_views=("zanca",),
        other_side_views=("zanca",),
        motion=True,
        scores=("pain_nrs", "quickdash"),
        complication_screen=True,
    )


@pytest.mark.parametrize("on", [OPENS, CLOSES])
def test_what_was_found_on_the_first_and_on_the_last_day_counts(on: date) -> None:
    review = review_at()
    film(review, on)
    moved(review, on)
    scored(review, "pain_nrs", on)
    assert completion.present_in(review) == Present(
        film_views=frozenset({"zanca"}),
        other_side_views=frozenset({"zanca"}),
        motion=True,
        scores=frozenset({"pain_nrs"}),
    )


@pytest.mark.parametrize("on", [date(2026, 7, 2), date(2026, 8, 1)])
def test_what_was_found_outside_the_window_does_not_count(on: date) -> None:
    review = review_at()
    film(review, on)
    moved(review, on)
    scored(review, "pain_nrs", on)
    assert completion.present_in(review) == Present()


def test_the_findings_of_another_injury_do_not_count() -> None:
    review, other = review_at(), review_at()
    film(other)
    assert completion.present_in(review) == Present()


def test_what_a_late_visit_found_counts_for_its_review() -> None:
    review = review_at()
    film(review, AFTER)
    attend(review, AFTER)
    assert completion.present_in(review).film_views == {"zanca"}
    assert "film:zanca" not in completion.still_missing(review)


def test_a_review_lacks_what_was_neither_found_nor_given_up_with_a_reason() -> None:
    review = review_at()
    film(review)
    review.not_obtainable = {"motion": "the arm is in plaster", "score:quickdash": " "}
    assert completion.still_missing(review) == (
        "complication_screen",
        "score:pain_nrs",
        "score:quickdash",
    )


def test_a_film_of_another_view_is_not_the_film_that_is_wanted() -> None:
    review = review_at()
    film(review, view="ap")
    assert "film:zanca" in completion.still_missing(review)


def test_a_film_of_one_side_lacks_the_other_where_both_are_wanted() -> None:
    review = review_at()
    film(review, both=False)
    missing = completion.still_missing(review)
    assert "film:zanca" not in missing
    assert "film_other:zanca" in missing
    review.not_obtainable = {"film_other:zanca": "the other side was injured before"}
    assert "film_other:zanca" not in completion.still_missing(review)


def test_what_a_service_asks_in_its_own_words_is_wanted_until_it_was_asked() -> None:
    review = review_at()
    review.step.free_items = [{"code": "sling", "words": "sling worn as agreed"}]
    assert "free:sling" in completion.still_missing(review)
    review.asked = ["free:sling"]
    assert "free:sling" not in completion.still_missing(review)


def test_coming_does_not_say_that_complications_were_asked_for() -> None:
    review = attend(review_at())
    assert "complication_screen" in completion.still_missing(review)
    review.asked = ["complication_screen"]
    assert "complication_screen" not in completion.still_missing(review)


def test_whoever_told_of_a_complication_was_asked() -> None:
    review = review_at()
    complicated(review, DAY)
    assert "complication_screen" not in completion.still_missing(attend(review))


def test_a_review_with_everything_is_complete() -> None:
    review = review_at()
    review.asked = ["complication_screen"]
    film(review)
    moved(review)
    scored(review, "pain_nrs")
    assert attend(review).complete is False
    scored(review, "quickdash")
    assert attend(review).complete is True
    assert Review.objects.get(pk=review.pk).complete is True


def test_the_first_finding_is_the_earliest_of_any_kind() -> None:
    review = review_at()
    assert completion.first_finding(review) is None
    film(review, date(2026, 7, 2))
    scored(review, "pain_nrs", date(2026, 7, 20))
    assert completion.first_finding(review) == date(2026, 7, 20)
    film(review, date(2026, 7, 18))
    assert completion.first_finding(review) == date(2026, 7, 18)
    moved(review, date(2026, 7, 10))
    assert completion.first_finding(review) == date(2026, 7, 10)
    complicated(review, date(2026, 7, 5))
    assert completion.first_finding(review) == date(2026, 7, 5)


def test_an_empty_window_settles_nothing() -> None:
    review = review_at()
    film(review, AFTER)
    assert completion.settle(review=review, by=review.recorded_by, now=NOW) is None
    assert Review.objects.get(pk=review.pk).state == "planned"


def test_a_window_that_holds_findings_settles_its_review_on_their_day() -> None:
    review = review_at()
    film(review)
    completion.settle(review=review, by=review.recorded_by, now=NOW)
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.attended_on) == ("attended", DAY)


def test_the_slot_up_to_the_visit_was_kept_and_nothing_is_sent_about_it_any_more() -> None:
    review = review_at()
    booked(review, on=DAY, today=date(2026, 7, 1))
    attend(review)
    assert Appointment.objects.get().state == "kept"
    assert Message.objects.get().state == "stopped"


def test_a_slot_after_the_visit_is_cancelled_and_the_patient_is_told() -> None:
    review = review_at("6m")
    patient = review.procedure.injury.patient
    patient.identity.email = "ada@example.invalid"
    patient.identity.save()
    booked(review, on=date(2026, 12, 1), at=time(9))
    delivery.deliver_waiting(now=NOW)
    attend(review, TODAY)
    assert Appointment.objects.get().state == "cancelled"
    assert list(Message.objects.order_by("id").values_list("purpose", "state")) == [
        ("appointment_booked", "sent"),
        ("appointment_cancelled", "waiting"),
    ]


def test_a_visit_that_is_recorded_again_keeps_its_first_day() -> None:
    review = attend(review_at())
    assert attend(review, date(2026, 7, 20)).attended_on == DAY


def test_attending_over_a_newer_version_is_refused() -> None:
    review = review_at()
    seen = Review.objects.get(pk=review.pk)
    attend(review)
    with pytest.raises(StaleVersion):
        attend(seen, date(2026, 7, 20))
    assert Review.objects.get(pk=review.pk).attended_on == DAY


def test_nobody_attends_a_review_that_was_ended() -> None:
    review = review_at()
    Review.objects.filter(pk=review.pk).update(
        state="not_needed", ended_because="chosen", ended_reason="lives abroad"
    )
    review.refresh_from_db()
    with pytest.raises(IllegalTransition):
        attend(review)


def test_what_is_read_after_the_visit_completes_its_review_at_night() -> None:
    review = review_at("3m")
    review.asked = ["complication_screen"]
    day = date(2026, 9, 4)
    scored(review, "pain_nrs", day)
    scored(review, "quickdash", day)
    moved(review, day)
    assert not attend(review, day).complete
    assert completion.complete_attended(by=review.recorded_by, now=NOW) == 0
    values = {"taken_on": day, "view": "zanca", "shows_both_sides": True}
    later = NOW + timedelta(hours=2)
    films.record_film(
        injury=review.procedure.injury, values=values, **{**given(review), "now": later}
    )
    assert completion.complete_attended(by=review.recorded_by, now=later) == 1
    assert Review.objects.get(pk=review.pk).complete
    assert completion.complete_attended(by=review.recorded_by, now=later) == 0


def test_what_led_to_a_revision_is_no_finding_of_the_revisions_first_review() -> None:
    index = review_at().procedure
    again = builders.procedure(
        index.injury,
        kind="revision_fixation",
        revises=index,
        performed_on=date(2026, 8, 3),
    )
    first = again.reviews.get(step__code="baseline")
    complicated(index.reviews.get(step__code="6w"), date(2026, 8, 3))
    assert completion.first_finding(first) is None
    complicated(first, date(2026, 8, 3))
    assert completion.first_finding(first) == date(2026, 8, 3)


def test_what_a_later_visit_found_is_not_even_looked_at(counted: Any) -> None:
    review = review_at("6w")
    scored(review, "pain_nrs")
    attend(review)
    with counted() as before:
        completion.complete_attended(by=review.recorded_by, now=NOW)
    later = NOW + timedelta(hours=2)
    values = {"taken_on": date(2026, 9, 4), "view": "zanca"}
    films.record_film(
        injury=review.procedure.injury, values=values, **{**given(review), "now": later}
    )
    with counted() as after:
        assert completion.complete_attended(by=review.recorded_by, now=later) == 0
    assert len(before) == len(after) == 1
