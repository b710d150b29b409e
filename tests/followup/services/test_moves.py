"""What follows an injury to another patient; exams that change sides."""

from datetime import timedelta

import pytest

from followup.models import Appointment, HospitalSlot, Message, MotionExam, Review
from followup.services import moves
from registry.errors import BadInput
from registry.models import Injury
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def operated() -> Injury:
    return builders.procedure(builders.injury()).injury


def on_it(injury: Injury) -> list[int]:
    return [one.pk for one in injury.procedures.all()]


def message(injury: Injury, **values: str) -> Message:
    review = Review.objects.filter(procedure__injury=injury).earliest("pk")
    given = {"key": "k", "purpose": "reminder", **values}
    return Message.objects.create(
        site=injury.site, patient=injury.patient, review=review, wanted_at=NOW, **given
    )


def test_what_was_found_by_an_appointment_follows_as_well() -> None:
    injury, to = operated(), builders.patient()
    review = Review.objects.get(procedure__injury=injury, opens_on__lte=TODAY, closes_on__gte=TODAY)
    slot: Appointment = builders.booked(review)
    moved = moves.follow_move(procedures=on_it(injury), to=to, now=NOW)
    about = Message.objects.get(appointment=slot)
    assert moved == {"followup_message": [about.pk], "followup_task": []}
    assert about.patient == to


def test_what_is_just_being_sent_stands_in_the_way() -> None:
    injury = operated()
    message(injury, state="sending")
    with pytest.raises(BadInput, match="try again in a minute"):
        moves.follow_move(procedures=on_it(injury), to=builders.patient(), now=NOW)


def test_what_followed_goes_back_unless_it_went_out_meanwhile() -> None:
    injury, to = operated(), builders.patient()
    whose = injury.patient
    rows = [message(injury, key="a"), message(injury, key="b")]
    moved = moves.follow_move(procedures=on_it(injury), to=to, now=NOW)
    Message.objects.filter(pk=rows[0].pk).update(state="sent", sent_at=NOW)
    moves.follow_back(came_from=to, to=whose, moved=moved)
    for row in rows:
        row.refresh_from_db()
    assert [row.patient for row in rows] == [to, whose]


def test_a_slot_that_the_hospitals_system_keeps_stands_in_the_way() -> None:
    injury = operated()
    review = Review.objects.get(procedure__injury=injury, opens_on__lte=TODAY, closes_on__gte=TODAY)
    slot = builders.booked(review)
    HospitalSlot.objects.create(
        site=injury.site,
        patient=injury.patient,
        filler="A1",
        act="booked",
        on=slot.on,
        at=slot.at,
        clinic=slot.clinic,
        clock="1",
        first_clock="1",
        appointment=slot,
    )
    with pytest.raises(BadInput, match="keeps the slot of 01 Dec 2026 09:00 in the name"):
        moves.follow_move(procedures=on_it(injury), to=builders.patient(), now=NOW)
    assert moves.follow_move(procedures=[], to=builders.patient(), now=NOW) == {
        "followup_message": [],
        "followup_task": [],
    }


def test_only_the_exams_that_are_named_change_sides() -> None:
    injury = builders.injury()
    stamps = {"recorded_at": NOW, "changed_at": NOW}
    people = {"recorded_by": injury.recorded_by, "changed_by": injury.recorded_by}
    first, second = (
        MotionExam.objects.create(
            injury=injury,
            site=injury.site,
            side="left",
            examined_on=TODAY - timedelta(days=n),
            **stamps,
            **people,
        )
        for n in (1, 2)
    )
    named = {"followup_motionexam": [second.pk]}
    done = moves.turn_exams(injury=injury, rows=named, by=injury.recorded_by, now=NOW)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (done, first.side, second.side) == (named, "left", "right")
    assert second.version == 2
