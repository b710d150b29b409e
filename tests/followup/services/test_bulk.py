"""One thing done to several reviews: each for itself, and what changed since the preview is refused."""

from datetime import time
from typing import Any

import pytest

from followup.models import Appointment, Message, Review
from followup.selectors import due_bulk
from followup.services import bulk
from followup.services.bulk import CHANGED, Outcome, Wish
from registry.errors import BadInput
from registry.models import Person
from registry.services import patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.listed import TUESDAY, due

pytestmark = pytest.mark.usefixtures("defaults")
MAIL = "quill@mail.invalid"


def rows(user: Person, *reviews: Review) -> dict[int, Any]:
    keys = [one.pk for one in reviews]
    return {one.pk: one for one in due_bulk.ticked(user, "see_due", keys, TODAY)}


def told(outcomes: list[Outcome]) -> list[tuple[bool, str]]:
    return [(one.done, one.words) for one in outcomes]


def remind(by: Person, *wishes: Wish, **more: Any) -> list[tuple[bool, str]]:
    found = rows(by, *Review.objects.filter(pk__in=[wish.key for wish in wishes]))
    given = {"rows": found, "wishes": wishes, "by": by, "now": NOW, "today": TODAY, **more}
    return told(bulk.remind_several(**given))


def test_everybody_gets_the_time_that_was_shown(coordinator: Person) -> None:
    one, other = due("One"), due("Other")
    where = builders.clinic(one.site)
    outcomes = bulk.book_list(
        rows=rows(coordinator, one, other),
        wishes=[Wish(one.pk, one.version, time(9)), Wish(other.pk, other.version, time(9, 10))],
        clinic=where,
        on=TUESDAY,
        by=coordinator,
        now=NOW,
        today=TODAY,
    )
    assert told(outcomes) == [
        (True, "booked: 01 Dec 2026 09:00"),
        (True, "booked: 01 Dec 2026 09:10"),
    ]
    slots = Appointment.objects.filter(clinic=where, on=TUESDAY, state="booked")
    assert {slot.review_id: slot.at for slot in slots} == {one.pk: time(9), other.pk: time(9, 10)}
    assert Message.objects.filter(purpose="appointment_booked").count() == 2


def test_a_row_that_changed_is_refused_and_the_others_are_done(coordinator: Person) -> None:
    changed, taken, good = due("Changed"), due("Taken"), due("Good")
    where = builders.clinic(good.site)
    builders.booked(due("Quicker"), TUESDAY, time(9, 10), where)
    outcomes = bulk.book_list(
        rows=rows(coordinator, changed, taken, good),
        wishes=[
            Wish(changed.pk, changed.version + 1, time(9)),
            Wish(taken.pk, taken.version, time(9, 10)),
            Wish(good.pk, good.version, time(9, 20)),
            Wish(10**9, 1, time(9, 30)),
        ],
        clinic=where,
        on=TUESDAY,
        by=coordinator,
        now=NOW,
        today=TODAY,
    )
    assert [(one.done, one.review) for one in outcomes] == [
        (False, changed),
        (False, taken),
        (True, good),
    ]
    assert outcomes[0].words == CHANGED
    assert "09:10 is taken" in outcomes[1].words
    states = dict(Review.objects.values_list("pk", "state"))
    assert (states[changed.pk], states[taken.pk], states[good.pk]) == (
        "planned",
        "planned",
        "booked",
    )


def test_several_are_ended_with_one_reason(coordinator: Person) -> None:
    one, changed = due("One"), due("Changed")
    found = rows(coordinator, one, changed)
    wishes = [Wish(one.pk, one.version), Wish(changed.pk, changed.version + 3)]
    with pytest.raises(BadInput, match="Say why"):
        bulk.end_several(rows=found, wishes=wishes, reason=" ", by=coordinator, now=NOW)
    outcomes = bulk.end_several(
        rows=found, wishes=wishes, reason="followed abroad", by=coordinator, now=NOW
    )
    assert told(outcomes) == [(True, "marked as not needed"), (False, CHANGED)]
    one.refresh_from_db()
    changed.refresh_from_db()
    assert (one.state, one.ended_reason, changed.state) == (
        "not_needed",
        "followed abroad",
        "planned",
    )


def test_a_reminder_goes_into_the_outbox_once_a_day(coordinator: Person) -> None:
    review = due(email=MAIL)
    wish = Wish(review.pk, review.version)
    assert remind(coordinator, wish) == [(True, "a reminder goes by e-mail")]
    message = Message.objects.get()
    assert (message.purpose, message.review, message.patient) == (
        "reminder",
        review,
        review.procedure.injury.patient,
    )
    ((done, why),) = remind(coordinator, wish)
    assert not done
    assert why == "was reminded on 25 Nov 2026, less than 7 days ago"
    assert Message.objects.count() == 1


def test_an_opt_out_since_the_preview_stops_the_reminder(coordinator: Person) -> None:
    review = due(email=MAIL)
    patient = review.procedure.injury.patient
    patients.add_consent(
        patient=patient,
        site=review.site,
        given=ConsentGiven("contact", "opted_out", TODAY, "rang"),
        by=coordinator,
        now=NOW,
        today=TODAY,
    )
    answer = remind(coordinator, Wish(review.pk, review.version))
    assert answer == [(False, "does not want to be contacted")]
    assert not Message.objects.exists()


def test_a_review_that_changed_since_the_preview_is_not_reminded_of(coordinator: Person) -> None:
    review = due(email=MAIL)
    assert remind(coordinator, Wish(review.pk, review.version + 1)) == [(False, CHANGED)]
    assert not Message.objects.exists()
