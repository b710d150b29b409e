"""Letting go of what the watch over the door has written down."""

from datetime import timedelta

import pytest
from django.utils import timezone

from registry.models import JobRun, SignInEvent, SignInTry
from registry.services import sign_ins
from registry.tasks.sign_ins import forget


@pytest.mark.django_db
def test_a_night_counts_what_it_let_go_of() -> None:
    sign_ins.begin_try(name="a", address="192.0.2.1", device="", now=timezone.now())
    SignInTry.objects.update(last_at=timezone.now() - timedelta(days=2))
    SignInEvent.objects.create(at="2020-01-01T00:00:00Z", kind="failed")
    assert forget()["outcome"] == "good"
    assert not SignInTry.objects.exists()
    assert not SignInEvent.objects.exists()
    assert JobRun.objects.get().counts == {
        "counts of tries": 3,
        "old events": 1,
        "sessions that had ended": 0,
    }
