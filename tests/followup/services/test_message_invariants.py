"""Messages that nobody holds, that went twice or to somebody else are found."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from followup.models import Message, MessageStep
from tests import builders
from tests.damage import LOOKED_AT, broken, sql

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
LONG_AGO = LOOKED_AT - timedelta(days=1, hours=1)


@pytest.mark.parametrize(
    ("values", "what"),
    [
        ({"state": "sending"}, "it is being sent by nobody"),
        (
            {"state": "sending", "claim": uuid4(), "claimed_at": LONG_AGO},
            "it has been held by one worker for more than a day",
        ),
        ({"state": "waiting", "claim": uuid4()}, "it waits and somebody holds it"),
        (
            {"state": "sent", "sent_at": LOOKED_AT},
            "it is said to have gone and no step says so",
        ),
        ({"state": "unknown", "stopped_because": ""}, "it did not go and nothing says why"),
    ],
)
def test_a_message_in_a_state_that_cannot_be_is_found(
    damaging: dict[str, Any], values: dict[str, Any], what: str
) -> None:
    key = damaging["message_id"]
    Message.objects.filter(pk=key).update(**values)
    assert broken() == {"message_states": [f"followup_message {key}: {what}"]}


def test_a_message_that_went_twice_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["message_id"]
    for _ in range(2):
        MessageStep.objects.create(message_id=key, kind="accepted", at=LOOKED_AT, round=1, number=1)
    assert broken() == {"messages_once": [f"followup_message {key}: it went more than once"]}


def test_a_message_to_another_patient_is_found(damaging: dict[str, Any]) -> None:
    key, other = damaging["message_id"], builders.patient()
    assert sql("UPDATE followup_message SET patient_id = %s WHERE id = %s", other.pk, key) == 1
    # An injury that went to another patient leaves what had gone where it went.
    sql("DELETE FROM registry_recordmove WHERE injury_id = %s", damaging["injury_id"])
    assert broken() == {
        "messages_to": [f"followup_message {key}: it goes to another patient than its review is of"]
    }
