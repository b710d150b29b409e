"""Erasing a patient by command."""

import io

import pytest
from django.core.management import CommandError, call_command

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
