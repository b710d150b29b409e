"""Slots that the hospital's system keeps, and the reviews that follow them."""

from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Appointment, Clinic, HospitalSlot, Message, Review
from followup.services import message_contents, reviews
from registry.models import HospitalMessage, Patient
from registry.services import erasure, hospital_messages
from tests import builders, hospital
from tests.builders import NOW, TODAY
from tests.hospital import siu, taken

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def clinic(db: None) -> Clinic:
    return builders.clinic(name="Shoulder", hospital_code=hospital.CLINIC)


def operated(**values: Any) -> tuple[Patient, str, Review]:
    """Return a patient whose six months' review is open for the next weeks."""
    patient = builders.patient(family_name="Testfamily", **values)
    builders.procedure(builders.injury(patient))
    review = Review.objects.get(
        procedure__injury__patient=patient, opens_on__lte=TODAY, closes_on__gte=TODAY
    )
    return patient, hospital.number_of(patient), review


def day(offset: int, hour: str = "0930") -> str:
    return f"{TODAY + timedelta(days=offset):%Y%m%d}{hour}00"


def booked() -> list[tuple[int, date, time]]:
    rows = Appointment.objects.filter(state="booked").order_by("on", "at")
    return [(row.review_id, row.on, row.at) for row in rows]


def test_a_new_slot_books_the_review_whose_window_holds_it(clinic: Clinic) -> None:
    _, number, review = operated()
    message = taken(siu("S12", number, "F1", day(2, "0937")))
    review.refresh_from_db()
    assert review.state == "booked"
    assert booked() == [(review.pk, TODAY + timedelta(days=2), time(9, 37))]
    assert (message.fate, message.because) == ("taken", "The slot on 27 Nov 2026 was booked")
    assert Message.objects.filter(purpose="appointment_booked").count() == 1


def test_the_same_slot_twice_changes_nothing(clinic: Clinic) -> None:
    _, number, _ = operated()
    taken(siu("S12", number, "F1", day(2)))
    again = taken(siu("S14", number, "F1", day(2), at="20261125083000"))
    assert again.fate == "nothing"
    assert Appointment.objects.count() == 1


def test_a_moved_slot_moves_the_appointment(clinic: Clinic) -> None:
    _, number, review = operated()
    taken(siu("S12", number, "F1", day(2)))
    taken(siu("S13", number, "F1", day(3), at="20261125083000"))
    assert booked() == [(review.pk, TODAY + timedelta(days=3), time(9, 30))]


def test_a_slot_moved_out_of_every_window_frees_the_review_and_waits(clinic: Clinic) -> None:
    _, number, review = operated()
    taken(siu("S12", number, "F1", day(2)))
    message = taken(siu("S13", number, "F1", day(900), at="20261125083000"))
    review.refresh_from_db()
    assert (booked(), review.state) == ([], "planned")
    assert message.fate == "waiting"
    assert "No review of the patient is open" in message.because


def test_a_cancelled_slot_leaves_the_review_planned(clinic: Clinic) -> None:
    _, number, review = operated()
    taken(siu("S12", number, "F1", day(2)))
    message = taken(siu("S15", number, "F1", day(2), at="20261125083000"))
    review.refresh_from_db()
    assert (review.state, message.fate) == ("planned", "taken")
    assert taken(siu("S17", number, "F1", day(2), at="20261125084000")).fate == "nothing"


def test_a_cancellation_that_comes_first_is_not_undone_by_the_older_booking(clinic: Clinic) -> None:
    _, number, _ = operated()
    taken(siu("S15", number, "F1", day(2), at="20261125083000"))
    assert taken(siu("S12", number, "F1", day(2))).fate == "overtaken"
    assert booked() == []


def test_who_did_not_come_is_noted_as_missed(clinic: Clinic) -> None:
    _, number, review = operated()
    taken(siu("S12", number, "F1", day(0, "0830")))
    taken(siu("S26", number, "F1", day(0, "0830"), at="20261125085000"))
    review.refresh_from_db()
    assert (review.state, review.missed_count) == ("missed", 1)
    assert taken(siu("S26", number, "F1", day(0, "0830"), at="20261125085500")).fate == "nothing"


def test_a_slot_to_come_that_is_said_to_be_missed_waits(clinic: Clinic) -> None:
    _, number, _ = operated()
    assert "is to come" in taken(siu("S26", number, "F1", day(2))).because


def test_a_slot_of_another_clinic_is_not_ours(clinic: Clinic) -> None:
    _, number, _ = operated()
    message = taken(siu("S12", number, "F1", day(2), place="EYES"))
    assert (message.fate, message.text, booked()) == ("not_ours", "", [])


def test_a_slot_moved_to_another_clinic_frees_the_review(clinic: Clinic) -> None:
    _, number, _ = operated()
    taken(siu("S12", number, "F1", day(2)))
    moved = taken(siu("S13", number, "F1", day(3), at="20261125083000", place="EYES"))
    assert (moved.fate, booked()) == ("taken", [])


def test_the_review_goes_to_the_slot_named_first_whatever_order_they_come_in(
    clinic: Clinic,
) -> None:
    _, number, review = operated()
    later = taken(siu("S12", number, "F2", day(4), at="20261125083000"))
    taken(siu("S12", number, "F1", day(2)))
    later.refresh_from_db()
    assert booked() == [(review.pk, TODAY + timedelta(days=2), time(9, 30))]
    assert (later.fate, later.because) == (
        "waiting",
        "The review that is open on 2026-11-29 has another slot.",
    )
    taken(siu("S15", number, "F1", day(2), at="20261125084000"))
    later.refresh_from_db()
    assert booked() == [(review.pk, TODAY + timedelta(days=4), time(9, 30))]
    assert later.fate == "taken"


def test_an_appointment_that_was_booked_here_alike_is_adopted(clinic: Clinic) -> None:
    _, number, review = operated()
    on = date(2026, 12, 1)
    slot = builders.booked(review, on=on, at=time(9), where=clinic)
    message = taken(siu("S12", number, "F1", "20261201090000"))
    assert (message.fate, HospitalSlot.objects.get().appointment) == ("nothing", slot)


def test_a_review_with_a_slot_of_a_person_waits(clinic: Clinic) -> None:
    _, number, review = operated()
    slot = builders.booked(review, where=clinic)
    assert "has another slot" in taken(siu("S12", number, "F1", day(2))).because
    assert booked() == [(review.pk, slot.on, slot.at)]


def test_what_somebody_cancelled_here_is_not_booked_again_by_another_message(
    clinic: Clinic,
) -> None:
    _, number, review = operated()
    taken(siu("S12", number, "F1", day(2)))
    review.refresh_from_db()
    reviews.cancel(review=review, expected_version=review.version, by=review.recorded_by, now=NOW)
    taken(siu("S12", number, "F9", day(400), at="20261125083000"))
    assert booked() == []


def test_a_time_that_another_patient_has_waits(clinic: Clinic) -> None:
    (_, one, _), (_, other, _) = operated(), operated(given_name="Bea")
    taken(siu("S12", one, "F1", day(2)))
    message = taken(siu("S12", other, "F2", day(2), at="20261125083000", given="Bea"))
    assert (message.fate, len(booked())) == ("waiting", 1)
    assert "is taken" in message.because


def test_a_day_that_is_over_books_nothing(clinic: Clinic) -> None:
    _, number, _ = operated()
    message = taken(siu("S12", number, "F1", day(-1)))
    assert (message.fate, message.because, booked()) == ("nothing", "The day is over", [])


def test_two_reviews_open_on_a_day_wait_for_a_person(clinic: Clinic) -> None:
    patient, number, _ = operated()
    builders.procedure(builders.injury(patient, side="right"))
    assert "2 reviews are open" in taken(siu("S12", number, "F1", day(2))).because


def test_a_slot_without_a_review_waits_and_none_is_invented(clinic: Clinic) -> None:
    patient = builders.patient(family_name="Testfamily")
    message = taken(siu("S12", hospital.number_of(patient), "F1", day(2)))
    assert message.fate == "waiting"
    assert Review.objects.count() == 0


def test_a_slot_known_by_who_asked_for_it_alone_is_known_again(clinic: Clinic) -> None:
    _, number, _ = operated()
    by_placer = siu("S12", number, "F1", day(2)).replace(b"SCH||F1^PAS", b"SCH|P1^ORD|")
    taken(by_placer)
    both = siu("S13", number, "F1", day(3), at="20261125083000").replace(b"SCH||", b"SCH|P1^ORD|")
    taken(both)
    assert HospitalSlot.objects.count() == 1
    assert [on for _, on, _ in booked()] == [TODAY + timedelta(days=3)]


def test_slots_follow_a_merge_of_their_patients(clinic: Clinic) -> None:
    kept, survives, _ = operated()
    lost = builders.patient(family_name="Testfamily")
    taken(siu("S12", hospital.number_of(lost), "F1", day(2)))
    taken(hospital.merge(survives, hospital.number_of(lost), at="20261125083000"))
    assert HospitalSlot.objects.get().patient == kept


def test_an_erasure_takes_the_names_of_slots_along(clinic: Clinic) -> None:
    patient, number, _ = operated()
    taken(siu("S12", number, "F1", day(2)))
    erasure.erase_patient(
        patient=patient, reason="asked", by=patient.recorded_by, now=NOW, today=TODAY
    )
    assert not HospitalSlot.objects.exists()
    assert not HospitalMessage.objects.exclude(text="").exists()


def again(message: HospitalMessage) -> tuple[str, str]:
    """Take a message that waits once more, and return its fate and why."""
    by = builders.person("connie", north="coordinator")
    done = hospital_messages.take_again(message=message, patient=None, by=by, now=NOW)
    return done.fate, done.because


def test_a_waiting_slot_is_taken_again_when_the_review_was_freed(clinic: Clinic) -> None:
    _, number, review = operated()
    builders.booked(review, where=clinic)
    message = taken(siu("S12", number, "F1", day(2)))
    assert again(message)[0] == "waiting"
    review.refresh_from_db()
    reviews.cancel(review=review, expected_version=review.version, by=review.recorded_by, now=NOW)
    assert again(message) == ("taken", "The slot on 27 Nov 2026 was booked")
    assert booked() == [(review.pk, TODAY + timedelta(days=2), time(9, 30))]


def test_a_slot_of_two_reviews_takes_the_one_that_somebody_booked_alike(clinic: Clinic) -> None:
    patient, number, _ = operated()
    other = builders.procedure(builders.injury(patient, side="right"))
    message = taken(siu("S12", number, "F1", "20261201090000"))
    assert message.fate == "waiting"
    meant = Review.objects.get(procedure=other, opens_on__lte=TODAY, closes_on__gte=TODAY)
    slot = builders.booked(meant, on=date(2026, 12, 1), at=time(9), where=clinic)
    assert again(message) == ("nothing", "It stands so already")
    assert HospitalSlot.objects.get().appointment == slot


def test_a_waiting_slot_of_which_something_newer_was_said_stays_overtaken(clinic: Clinic) -> None:
    _, number, review = operated()
    builders.booked(review, where=clinic)
    message = taken(siu("S12", number, "F1", day(2)))
    taken(siu("S15", number, "F1", day(2), at="20261125083000"))
    assert again(message)[0] == "overtaken"


def told() -> list[tuple[str, str]]:
    rows = Message.objects.filter(purpose__startswith="appointment").order_by("pk")
    return list(rows.values_list("purpose", "state"))


def test_where_the_hospital_tells_nothing_of_its_slots_goes_out_from_here(clinic: Clinic) -> None:
    _, number, review = operated()
    hospital.door(tells_bookings=True)
    taken(siu("S12", number, "F1", day(2)))
    taken(siu("S13", number, "F1", day(3), at="20261125083000"))
    taken(siu("S15", number, "F1", day(3), at="20261125084000"))
    review.refresh_from_db()
    assert (review.state, Appointment.objects.count()) == ("planned", 2)
    assert told() == []


def test_of_a_slot_that_was_booked_here_the_patient_is_told_from_here(clinic: Clinic) -> None:
    _, number, review = operated()
    hospital.door(tells_bookings=True)
    builders.booked(review, where=clinic)
    Message.objects.update(state="sent", sent_at=NOW)
    taken(siu("S12", number, "F1", day(6, "0900")))
    slot = HospitalSlot.objects.get()
    assert (slot.made, slot.appointment) == (False, Appointment.objects.get())
    taken(siu("S15", number, "F1", day(6, "0900"), at="20261125084000"))
    assert told() == [("appointment_booked", "sent"), ("appointment_cancelled", "waiting")]


def test_what_waits_of_its_slots_does_not_go_once_the_hospital_tells(clinic: Clinic) -> None:
    _, number, _ = operated()
    door = hospital.door()
    taken(siu("S12", number, "F1", day(2)))
    assert HospitalSlot.objects.get().made is True
    waiting = Message.objects.get(purpose="appointment_booked")
    assert message_contents.outdated(waiting, now=NOW) == ""
    door.tells_bookings = True
    door.save(update_fields=["tells_bookings"])
    because = message_contents.outdated(waiting, now=NOW)
    assert because == "the hospital tells of this slot itself"
    Message.objects.update(state="sent", sent_at=NOW)
    taken(siu("S15", number, "F1", day(2), at="20261125084000"))
    assert told() == [("appointment_booked", "sent")]
