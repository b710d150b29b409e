"""What a patient is handed about their implants."""

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, Person
from tests import builders
from tests.implanted import PLATE, part

pytestmark = pytest.mark.django_db


def test_the_list_says_what_where_when_and_which_batch(client: Client, surgeon: Person) -> None:
    operation = builders.procedure()
    part(operation, batch="LOT42A", quantity=1)
    part(
        operation,
        kind="screw",
        description="screw",
        device_identifier="",
        batch_not_obtainable=True,
    )
    client.force_login(surgeon)
    where = reverse("patient-implants", args=[operation.injury.patient.key])
    shown = " ".join(client.get(where).content.decode().split())
    for said in ("clavicle plate, six holes", PLATE, "LOT42A", "Jun 2026", "North Hospital"):
        assert said in shown
    assert "<dd>Left</dd>" in shown
    assert "not obtainable (tray)" in shown
    assert "good practice, and no such card" in shown


def test_opening_it_is_written_down(client: Client, surgeon: Person) -> None:
    patient = builders.injury().patient
    client.force_login(surgeon)
    assert (
        "No part is recorded."
        in client.get(reverse("patient-implants", args=[patient.key])).content.decode()
    )
    assert AuditEntry.objects.filter(action="read").exists()
