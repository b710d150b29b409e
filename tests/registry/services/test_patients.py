"""Identity, numbers, consent and state of a patient."""

from datetime import date

import pytest

from registry.errors import BadInput, StaleVersion
from registry.models import Consent, Identifier, Identity, Injury, Patient
from registry.services import patients, voiding
from registry.services.enrolment import ConsentGiven, IdentifierGiven
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def correct(identity: Identity, version: int = 1, **values: object) -> Identity:
    return patients.correct_identity(
        identity=identity,
        values=values,
        expected_version=version,
        by=builders.person("recorder"),
        now=NOW,
        today=TODAY,
    )


def change(patient: Patient, status: str, on: date | None, version: int | None = None) -> Patient:
    return patients.change_status(
        patient=patient,
        status=status,
        on=on,
        note="told by the family",
        expected_version=version or patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_corrected_name_is_found_under_its_new_spelling() -> None:
    identity = correct(builders.patient().identity, family_name="Elsewhere")
    assert identity.version == 2
    assert Identity.objects.get().sort_name == "elsewhere ada"


def test_a_corrected_birth_date_corrects_the_age_at_each_injury() -> None:
    hurt = builders.injury()
    day = date(1990, 1, 1)
    correct(hurt.patient.identity, birth_earliest=day, birth_latest=day, sex="male")
    fresh = Injury.objects.get()
    assert (fresh.age_years, fresh.sex, fresh.version) == (36, "male", 2)


def test_a_birth_after_an_injury_is_refused_and_nothing_changes() -> None:
    hurt = builders.injury()
    day = date(2026, 7, 1)
    with pytest.raises(BadInput, match="after an injury"):
        correct(hurt.patient.identity, birth_earliest=day, birth_latest=day)
    assert Identity.objects.get().version == 1


def test_a_birth_in_the_future_is_refused() -> None:
    day = date(2027, 1, 1)
    with pytest.raises(BadInput, match="in the future"):
        correct(builders.patient().identity, birth_earliest=day, birth_latest=day)


def test_two_who_correct_one_identity_do_not_overwrite_each_other() -> None:
    builders.patient()
    mine, theirs = Identity.objects.get(), Identity.objects.get()
    correct(theirs, phone="1")
    with pytest.raises(StaleVersion):
        correct(mine, phone="2")
    assert Identity.objects.get().phone == "1"


def test_a_further_number_is_added_and_a_taken_one_refused() -> None:
    one, other = builders.patient(), builders.patient()
    given = IdentifierGiven("national number", "42")
    patients.add_identifier(patient=one, site=one.site, given=given, by=one.recorded_by)
    with pytest.raises(BadInput, match="already belongs"):
        patients.add_identifier(patient=other, site=one.site, given=given, by=one.recorded_by)
    assert one.identifiers.count() == 2


def test_a_wrong_number_is_taken_away_with_a_reason() -> None:
    number = builders.patient().identifiers.get()
    by = builders.person("recorder")
    with pytest.raises(BadInput, match="Say why"):
        patients.remove_identifier(identifier=number, reason=" ", by=by, now=NOW)
    patients.remove_identifier(identifier=number, reason="typed in the wrong line", by=by, now=NOW)
    assert not Identifier.objects.exists()


def test_a_decision_of_the_future_is_refused() -> None:
    patient = builders.patient()
    given = ConsentGiven("registry", "given", date(2026, 11, 26), "form")
    with pytest.raises(BadInput, match="in the future"):
        patients.add_consent(
            patient=patient,
            site=patient.site,
            given=given,
            by=patient.recorded_by,
            now=NOW,
            today=TODAY,
        )


def test_dying_needs_its_date_and_no_future_one() -> None:
    patient = builders.patient()
    with pytest.raises(BadInput, match="Give the date"):
        change(patient, "died", None)
    with pytest.raises(BadInput, match="in the future"):
        change(patient, "died", date(2026, 11, 26))
    change(patient, "died", TODAY)
    assert Patient.objects.get().status_on == TODAY


def test_nobody_dies_before_an_operation_but_somebody_may_have_moved_before_it() -> None:
    patient = builders.procedure(performed_on=date(2026, 6, 5)).injury.patient
    with pytest.raises(BadInput, match="is before an operation \\(2026-06-05\\)"):
        change(patient, "died", date(2026, 6, 4))
    assert Patient.objects.get().status == "active"
    change(patient, "moved", date(2026, 6, 4))
    change(patient, "died", date(2026, 6, 5))
    assert Patient.objects.get().status_on == date(2026, 6, 5)


@pytest.mark.parametrize("status", ["died", "withdrawn", "moved"])
def test_nothing_ends_before_the_birth(status: str) -> None:
    patient = builders.patient(birth_earliest=date(1980, 2, 1), birth_latest=date(1980, 2, 29))
    with pytest.raises(BadInput, match="before the patient's birth"):
        change(patient, status, date(1980, 1, 31))


def test_being_back_clears_the_date() -> None:
    patient = builders.patient()
    change(patient, "moved", TODAY)
    change(patient, "active", TODAY)
    fresh = Patient.objects.get()
    assert (fresh.status, fresh.status_on) == ("active", None)


def test_a_state_saved_over_a_newer_one_is_refused() -> None:
    patient = builders.patient()
    change(patient, "moved", TODAY)
    with pytest.raises(StaleVersion):
        change(Patient.objects.get(), "died", TODAY, version=1)


def opt(patient: Patient, decision: str, on: date = TODAY, *, goes_on: bool = False) -> Consent:
    return patients.add_consent(
        patient=patient,
        site=patient.site,
        given=ConsentGiven("registry", decision, on, "told on the phone", "phone", "patient"),
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
        goes_on=goes_on,
    )


@pytest.mark.usefixtures("defaults")
@pytest.mark.parametrize("decision", ["from_now_on", "opted_out"])
def test_whoever_opts_out_is_followed_up_no_more_until_it_is_taken_back(decision: str) -> None:
    operation = builders.procedure()
    patient = operation.injury.patient
    opt(patient, decision)
    patient.refresh_from_db()
    assert (patient.status, patient.status_on) == ("withdrawn", TODAY)
    ahead = operation.reviews.filter(due_on__gt=TODAY)
    assert not ahead.filter(state="planned").exists()
    opt(patient, "given")
    patient.refresh_from_db()
    assert (patient.status, patient.status_note) == ("active", "")
    assert ahead.filter(state="planned").exists()


@pytest.mark.usefixtures("defaults")
def test_follow_up_goes_on_where_it_is_clinically_needed() -> None:
    operation = builders.procedure()
    opt(operation.injury.patient, "opted_out", goes_on=True)
    assert operation.reviews.filter(state="planned", due_on__gt=TODAY).exists()
    assert Patient.objects.get(pk=operation.injury.patient_id).status == "active"


def test_taking_an_opt_out_back_does_not_bring_back_who_left_for_another_reason() -> None:
    patient = builders.patient()
    patients.change_status(
        patient=patient,
        status="withdrawn",
        on=TODAY,
        note="no time for visits",
        expected_version=1,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    opt(patient, "opted_out")
    opt(patient, "given")
    patient.refresh_from_db()
    assert patient.status == "withdrawn"


def test_an_opt_out_that_was_never_made_is_voided_with_what_it_ended() -> None:
    patient = builders.patient()
    made = opt(patient, "opted_out")
    voiding.void_row(
        row=made, reason="another patient's", expected_version=1, by=patient.recorded_by, now=NOW
    )
    patient.refresh_from_db()
    assert patient.status == "active"


def test_contact_cannot_be_refused_from_a_day_on() -> None:
    patient = builders.patient()
    with pytest.raises(BadInput, match="from_now_is_of_registry"):
        patients.add_consent(
            patient=patient,
            site=patient.site,
            given=ConsentGiven("contact", "from_now_on", TODAY, "letter"),
            by=patient.recorded_by,
            now=NOW,
            today=TODAY,
        )
