"""Reviews, slots and questions about hardware that do not fit each other are found."""

from typing import Any

import pytest

from followup.models import Appointment, HardwareDecision, ProtocolStep, Review
from tests import builders
from tests.damage import broken, sql, unchecked

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ("state = 'planned'", "it is not booked and a slot is kept free for it"),
        ("complete = true", "it is complete and was not attended"),
    ],
)
def test_a_state_that_does_not_fit_is_found(
    damaging: dict[str, Any], change: str, what: str
) -> None:
    key = damaging["review_id"]
    assert sql(f"UPDATE followup_review SET {change} WHERE id = %s", key) == 1
    assert broken() == {"review_states": [f"followup_review {key}: {what}"]}


def test_a_booked_review_without_a_slot_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["review_id"]
    query = "UPDATE followup_appointment SET state = 'cancelled' WHERE review_id = %s"
    assert sql(query, key) == 1
    assert broken() == {"review_states": [f"followup_review {key}: it is booked and has no slot"]}


def test_a_review_that_was_missed_at_no_time_is_found(damaging: dict[str, Any]) -> None:
    review = Review.objects.filter(state="planned").latest("pk")
    sql("UPDATE followup_review SET state = 'missed' WHERE id = %s", review.pk)
    assert list(broken()) == ["review_states"]


def test_a_review_of_a_void_operation_is_found(damaging: dict[str, Any]) -> None:
    operation = builders.procedure()
    assert broken() == {}
    query = (
        "UPDATE registry_procedure SET voided_at = changed_at, voided_by_id = changed_by_id, "
        "void_reason = 'wrong' WHERE id = %s"
    )
    sql(query, operation.pk)
    found = broken()
    assert list(found) == ["review_states"]
    assert len(found["review_states"]) == operation.reviews.count()


def test_a_review_that_stands_in_no_way_is_found(damaging: dict[str, Any]) -> None:
    review = Review.objects.filter(state="planned").latest("pk")
    with unchecked("followup_review", "followup_review_state_known"):
        sql("UPDATE followup_review SET state = 'gone' WHERE id = %s", review.pk)
        assert broken() == {
            "review_sums": [f"followup_review {review.pk}: it stands in no way that is known"]
        }


def test_a_step_of_the_wrong_protocol_is_found(damaging: dict[str, Any]) -> None:
    other = ProtocolStep.objects.filter(version__protocol=damaging["protocol_id"]).get()
    review = Review.objects.filter(state="planned").exclude(step__code=other.code).latest("pk")
    there = review.procedure.reviews.get(step__code=other.code)
    assert sql("UPDATE followup_review SET step_id = %s WHERE id = %s", other.pk, review.pk) == 1
    found = broken()
    assert list(found) == ["schedules"]
    assert found["schedules"] == [
        f"registry_procedure {there.procedure_id}: step '{other.code}' was planned 2 times",
        f"followup_review {review.pk}: it is of a protocol for another kind of operation",
    ]


def test_a_slot_of_a_void_review_is_found(damaging: dict[str, Any]) -> None:
    query = (
        "UPDATE followup_review SET voided_at = changed_at, voided_by_id = changed_by_id, "
        "void_reason = 'wrong' WHERE id = %s"
    )
    sql(query, damaging["review_id"])
    slot = Appointment.objects.get(review=damaging["review_id"])
    assert broken() == {
        "slots": [f"followup_appointment {slot.pk}: it stands and its review is void"]
    }


def test_a_question_that_no_step_answered_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["decision_id"]
    query = "UPDATE followup_hardwaredecision SET state = 'declined', reason = 'no' WHERE id = %s"
    assert sql(query, key) == 1
    assert broken() == {
        "hardware_questions": [f"followup_hardwaredecision {key}: no step says that it is declined"]
    }


def test_two_questions_about_one_construct_are_found(damaging: dict[str, Any]) -> None:
    one = HardwareDecision.objects.get(pk=damaging["decision_id"])
    sql("DROP INDEX followup_hardware_one_open")
    one.pk, one._state.adding = None, True
    one.save(force_insert=True)
    found = broken()
    assert list(found) == ["hardware_questions"]
    assert "2 questions about its hardware are open at once" in found["hardware_questions"][0]
    assert "no step says how it came to be asked" in found["hardware_questions"][1]
