"""Answering a person who asks what is held on them."""

import io
import json
import zipfile
from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import AuditEntry, Patient, PatientSite
from registry.services import access_reports
from tests import builders, world
from tests.builders import NOW


@pytest.fixture
def patient(db: None, time_machine: Any) -> Patient:
    time_machine.move_to(builders.NOW)
    builders.load_defaults()
    found: Patient = Patient.objects.get(pk=world.one_of_each("north")["patient_id"])
    return found


def test_the_file_holds_pages_data_and_pictures_and_the_trail_knows(patient: Patient) -> None:
    target = io.BytesIO()
    missing = access_reports.make(
        patient=patient,
        reason="letter of 20 Nov 2026",
        by=patient.recorded_by,
        now=NOW,
        target=target,
    )
    assert missing == []
    with zipfile.ZipFile(target) as packed:
        names = packed.namelist()
        assert packed.read("report.pdf").startswith(b"%PDF-")
        told = json.loads(packed.read("report.json"))
    assert any(name.startswith("files/films/") for name in names)
    assert told["about"]["reason"] == "letter of 20 Nov 2026"
    tables = {one["table"]: one["rows"] for one in told["tables"]}
    assert tables["Identities"][0]["Family name"] == "Quillfeather"
    entry = AuditEntry.objects.filter(action="read", row_id=str(patient.pk)).latest("pk")
    assert entry.reason == "report of all: letter of 20 Nov 2026"
    # Its own making is in it.
    assert entry.reason in {one["reason"] for one in told["who saw or changed it"]}


def test_a_picture_that_is_gone_is_named(patient: Patient, settings: Any, tmp_path: Any) -> None:
    settings.STORAGES = {
        **settings.STORAGES,
        "films": {
            "BACKEND": "django.core.files.storage.FileSystemStorage",
            "OPTIONS": {"location": str(tmp_path)},
        },
    }
    target = io.BytesIO()
    missing = access_reports.make(
        patient=patient, reason="a letter", by=patient.recorded_by, now=NOW, target=target
    )
    assert missing


def test_a_report_needs_a_reason(patient: Patient) -> None:
    with pytest.raises(BadInput, match="who asked"):
        access_reports.make(
            patient=patient, reason=" ", by=patient.recorded_by, now=NOW, target=io.BytesIO()
        )


def test_who_answers_has_to_hold_the_role_wherever_the_person_is(patient: Patient) -> None:
    here = builders.person("only_here", north="coordinator")
    access_reports.refuse_part(patient=patient, by=here)
    PatientSite.objects.create(patient=patient, site=builders.site("south"))
    with pytest.raises(BadInput, match="at all of them") as refused:
        access_reports.refuse_part(patient=patient, by=here)
    assert "South" not in str(refused.value)
