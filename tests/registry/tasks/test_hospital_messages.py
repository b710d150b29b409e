"""Letting go of messages at night."""

import pytest

from registry.models import HospitalMessage, JobRun
from registry.tasks.hospital_messages import forget
from tests import hospital


@pytest.mark.django_db
def test_a_night_counts_what_it_let_go_of() -> None:
    hospital.taken(hospital.adt("A04", "1", family="Stranger"))
    HospitalMessage.objects.update(received_at="2020-01-01T00:00:00Z")
    assert forget()["outcome"] == "good"
    assert HospitalMessage.objects.count() == 0
    assert JobRun.objects.get().counts == {"texts forgotten": 0, "notes deleted": 1}
