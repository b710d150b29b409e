"""A last word of the hospital's system is known again after the secret key was changed."""

from typing import Any

import pytest
from django.core.management import call_command
from django.utils.crypto import salted_hmac

from registry.models import HospitalRecord, Patient
from registry.models.identities import Identity
from registry.services import hospital_digests, patients
from tests import builders, hospital
from tests.builders import NOW, TODAY
from tests.hospital import taken

pytestmark = pytest.mark.django_db
OLD, NEW, NEWEST = "old " * 20, "new " * 20, "newest " * 20


@pytest.fixture
def corrected(settings: Any) -> Patient:
    """Return a patient of whom the hospital said "Smyth", which was corrected here to "Smith"."""
    settings.SECRET_KEY = OLD
    patient = builders.patient(family_name="Smit", given_name="Ada")
    says(patient, "Smyth", day=20)
    row = Identity.objects.get(patient=patient)
    assert row.family_name == "Smyth"
    patients.correct_identity(
        identity=row,
        values={"family_name": "Smith"},
        expected_version=row.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    return patient


def says(patient: Patient, family: str, day: int) -> None:
    number = hospital.number_of(patient)
    message = taken(hospital.adt("A08", number, at=f"202611{day}110000", family=family))
    assert message.fate in ("taken", "nothing")


def name_of(patient: Patient) -> str:
    return Identity.objects.get(patient=patient).family_name


def test_a_correction_stands_while_the_former_key_is_named(
    corrected: Patient, settings: Any
) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    says(corrected, "Smyth", day=21)
    assert name_of(corrected) == "Smith"
    settings.SECRET_KEY_FALLBACKS = []
    says(corrected, "Smyth", day=22)
    assert name_of(corrected) == "Smith"
    says(corrected, "Smythe", day=23)
    assert name_of(corrected) == "Smythe"


def test_a_correction_stands_after_the_former_keys_are_gone(
    corrected: Patient, settings: Any, capsys: Any
) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    call_command("renew_factor_secrets")
    assert "last words of hospitals' systems stay known" in capsys.readouterr().out
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEWEST, [NEW]
    assert hospital_digests.keep_keys() == hospital_digests.keep_keys() > 0
    settings.SECRET_KEY_FALLBACKS = []
    says(corrected, "Smyth", day=21)
    assert name_of(corrected) == "Smith"
    assert len(HospitalRecord.objects.get().said["family_name"]) == 2
    says(corrected, "Smythe", day=22)
    assert name_of(corrected) == "Smythe"


def test_what_no_key_opens_stays_for_the_day_on_which_it_is_named(
    corrected: Patient, settings: Any
) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    hospital_digests.keep_keys()
    before = HospitalRecord.objects.get().said
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEWEST, []
    hospital_digests.keep_keys()
    assert HospitalRecord.objects.get().said == before


def test_neither_a_value_nor_a_key_is_told_by_what_is_kept(
    corrected: Patient, settings: Any
) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    hospital_digests.keep_keys()
    said = str(HospitalRecord.objects.get().said)
    key = hospital_digests._derived(OLD).hex()
    assert not any(one in said for one in ("Smyth", OLD, key))


def test_a_digest_is_the_one_that_was_always_made(settings: Any) -> None:
    assert hospital_digests.digest_of("Smyth") == salted_hmac("hospital", "Smyth").hexdigest()[:24]


def test_messages_about_a_number_are_missed_after_the_key_was_changed(settings: Any) -> None:
    settings.SECRET_KEY = OLD
    patient = builders.patient(family_name="Testfamily")
    lost = hospital.number_of(patient)
    assert taken(hospital.adt("A08", "N999", family="Other", born="19700101")).fate == "not_ours"
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    merged = taken(hospital.merge("N999", lost, at="20261126080000"))
    assert "have them sent again" in merged.because
