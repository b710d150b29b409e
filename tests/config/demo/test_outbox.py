"""The invented service shows a message of each state, and what a worker then makes of them."""

from datetime import timedelta

import pytest

from config.demo.load import Wanted, load
from followup.models import Message, MessagePolicy
from followup.selectors.messages import rules_of
from followup.services import delivery
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_messages_of_every_state_are_there_and_a_worker_sends_only_what_waits() -> None:
    load(Wanted(), now=NOW, today=TODAY, whole=True)
    states = list(Message.objects.values_list("state", flat=True))
    assert {"sent", "stopped", "waiting", "failed", "unknown"} == set(states)
    assert all(
        rules_of(policy).means == ("email", "text", "letter")
        for policy in MessagePolicy.objects.all()
    )
    assert not Message.objects.exclude(state="waiting").filter(steps=None).exists()
    waiting = Message.objects.filter(state="waiting")
    booked = set(waiting.filter(purpose="appointment_booked").values_list("pk", flat=True))
    before = set(waiting.values_list("pk", flat=True))
    delivery.deliver_waiting(now=NOW)
    # Of a slot that the hospital's system booked a moment ago the patient is told at once.
    assert before - set(waiting.values_list("pk", flat=True)) == booked
    assert len(before) > len(booked) > 0
    # A day has room for one message to each patient, and what was sent by then leaves it free.
    delivery.deliver_waiting(now=NOW + timedelta(days=1))
    assert not Message.objects.filter(state="waiting").exists()
    parked = Message.objects.filter(state__in=["failed", "unknown"]).count()
    assert parked == states.count("failed") + states.count("unknown")
