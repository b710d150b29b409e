import io
import zipfile
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from registry.models.audit import AuditEntry
from tests.analytics.records import held
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("at_noon")]


@pytest.fixture
def at_noon(time_machine: Any) -> None:
    time_machine.move_to(NOW)


def test_the_data_set_is_handed_out_and_that_is_written_down(
    client: Client, quality_lead: Person
) -> None:
    client.force_login(quality_lead)
    held()
    held("south")
    page = client.get(reverse("dataset")).content.decode()
    assert "1 index procedure," in page
    assert "ccd_injured_mm" in page
    answer = client.post(reverse("dataset"), {"kind": "csv"})
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert len(archive.read("cases.csv").decode().splitlines()) == 2
    entry = AuditEntry.objects.filter(action="read").latest("id")
    assert (entry.table, entry.person_id) == ("analytics_snapshot", quality_lead.pk)
    assert entry.reason.startswith("data set taken: index procedures")


def test_what_cannot_be_read_hands_out_nothing(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    held()
    for address, kind in (("?horizon=9m", "csv"), ("", "pdf")):
        answer = client.post(reverse("dataset") + address, {"kind": kind})
        assert answer.status_code == 400
        assert answer["Content-Type"].startswith("text/html")
    assert not AuditEntry.objects.filter(action="read").exists()


def test_a_surgeon_sees_outcomes_and_takes_no_data(client: Client, surgeon: Person) -> None:
    client.force_login(surgeon)
    held()
    assert client.post(reverse("dataset"), {"kind": "csv"}).status_code == 403
