import io
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from registry.models import PatientSite
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def here() -> Client:
    client = Client()
    client.force_login(builders.person("answers", north="coordinator"))
    return client


def test_the_page_gives_one_file_for_a_reason(here: Client) -> None:
    patient = builders.patient()
    address = reverse("patient-access", args=[patient.key])
    assert "read it before you hand it out" in here.get(address).content.decode()
    refused = here.post(address, {"reason": ""})
    assert "This field is required" in refused.content.decode()
    answer = here.post(address, {"reason": "letter of 20 Nov 2026"})
    content = b"".join(answer.streaming_content)
    assert set(zipfile.ZipFile(io.BytesIO(content)).namelist()) == {"report.pdf", "report.json"}


def test_whoever_holds_the_role_at_one_of_two_sites_is_refused(here: Client) -> None:
    patient = builders.patient()
    PatientSite.objects.create(patient=patient, site=builders.site("south"))
    answer = here.post(reverse("patient-access", args=[patient.key]), {"reason": "a letter"})
    assert "at all of them makes the report" in answer.content.decode()


def test_the_command_writes_the_same_and_leaves_nothing_half(tmp_path: Path) -> None:
    patient = builders.patient()
    target = tmp_path / "report.zip"
    builders.person("admin", north="administrator")
    with pytest.raises(CommandError, match="no patient"):
        call_command("access_report", "NOBODY", str(target), by="admin", reason="a letter")
    with pytest.raises(CommandError, match="who asked"):
        call_command("access_report", patient.key, str(target), by="admin", reason="x")
    assert list(tmp_path.iterdir()) == []
    call_command("access_report", patient.key, str(target), by="admin", reason="a letter")
    assert [one.name for one in tmp_path.iterdir()] == ["report.zip"]
