"""Erasing a patient by command."""

import io
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.management import CommandError, call_command

from followup.services import uploads
from registry.models import Identity, Patient
from tests import builders

pytestmark = pytest.mark.django_db


def run(key: str, *more: str, by: str = "recorder") -> str:
    out = io.StringIO()
    call_command("erase_patient", key, "--by", by, "--reason", "letter", *more, stdout=out)
    return out.getvalue()


def test_the_command_says_what_went() -> None:
    patient = builders.patient()
    told = run(patient.key.lower(), "--yes")
    assert "1 identities and 1 numbers removed" in told
    assert "1 rows of the registry voided" in told
    assert not Identity.objects.exists()


def test_the_command_names_kept_files_that_may_name_the_person(
    settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    patient = builders.patient()
    uploads.keep_upload(
        content=ContentFile(b"a,b\n"),
        name="list.csv",
        site=patient.site,
        by=patient.recorded_by,
        now=builders.NOW,
    )
    told = run(patient.key, "--yes")
    assert told.count("The file list.csv, brought to North Hospital on 25 Nov 2026") == 1
    assert "may name this person: discard it or land it" in told


def test_the_key_has_to_be_typed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    patient = builders.patient()
    monkeypatch.setattr("builtins.input", lambda question: "no")
    with pytest.raises(CommandError, match="Nothing was erased"):
        run(patient.key)
    assert Identity.objects.exists()
    monkeypatch.setattr("builtins.input", lambda question: patient.key)
    run(patient.key)
    assert not Patient.objects.exists()


def test_an_unknown_key_or_person_is_named() -> None:
    patient = builders.patient()
    with pytest.raises(CommandError, match="no patient with the key NOBODY"):
        run("NOBODY", "--yes")
    with pytest.raises(CommandError, match="'nina'"):
        run(patient.key, "--yes", by="nina")


def test_erasing_twice_is_refused_in_words() -> None:
    patient = builders.patient()
    consent(patient)
    run(patient.key, "--yes")
    with pytest.raises(CommandError, match="no identity left"):
        run(patient.key, "--yes")


def consent(patient: Patient) -> None:
    builders.enrolment.record_consent(
        patient=patient,
        site=patient.site,
        given=builders.enrolment.ConsentGiven("registry", "given", builders.TODAY, "form"),
        by=patient.recorded_by,
        now=builders.NOW,
    )
