"""What patients chose about the use of their data, and which rows that leaves."""

from datetime import date, datetime, time, timedelta

import pytest
from django.apps import apps
from django.utils.timezone import make_aware

from followup.models import Film, Reply
from registry.models import Injury, Patient, Site
from registry.models.imports import ImportRow
from registry.models.procedures import Procedure
from registry.selectors import choices
from registry.services import enrolment, patients
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
BEFORE = NOW - timedelta(days=30)


def decide(patient: Patient, decision: str, on: date = TODAY, purpose: str = "registry") -> None:
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=enrolment.ConsentGiven(purpose, decision, on, "letter", "letter", "patient"),
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def recorded_on(row: Injury, day: date) -> None:
    moment = make_aware(datetime.combine(day, time(12)))
    Injury.objects.filter(pk=row.pk).update(recorded_at=moment, changed_at=moment)


def test_who_opted_out_wholly_has_no_usable_row_and_who_did_from_a_day_on_the_earlier() -> None:
    stays, wholly, early, late = (builders.injury() for _ in range(4))
    for row in (early, late):
        decide(row.patient, "from_now_on", TODAY - timedelta(days=7))
    decide(wholly.patient, "opted_out")
    recorded_on(early, TODAY - timedelta(days=7))
    recorded_on(late, TODAY - timedelta(days=6))
    left = choices.usable(Injury.objects.all())
    assert set(left) == {stays, early}
    assert choices.usable(Procedure.objects.all()).count() == 0
    assert wholly.patient not in choices.usable(Patient.objects.all())


def test_the_last_decision_counts_and_a_voided_one_was_never_made() -> None:
    row = builders.injury()
    decide(row.patient, "opted_out", TODAY)
    decide(row.patient, "given", TODAY - timedelta(days=1))
    assert not choices.usable(Injury.objects.all()).exists()
    decide(row.patient, "given", TODAY)
    assert choices.usable(Injury.objects.all()).exists()
    decide(row.patient, "opted_out", TODAY)
    assert set(choices.withdrawn().values_list("pk", flat=True)) == {row.patient_id}
    row.patient.consents.filter(decision="opted_out").update(
        voided_at=NOW, voided_by=row.recorded_by, void_reason="another patient's"
    )
    assert not choices.withdrawn().exists()
    assert choices.of_patients([row.patient_id]) == {row.patient_id: ("given", TODAY)}


@pytest.mark.parametrize(
    ("purpose", "decision", "contacted"),
    [
        ("contact", "opted_out", False),
        ("sharing", "opted_out", True),
        ("registry", "opted_out", False),
        ("registry", "from_now_on", False),
        ("registry", "given", True),
    ],
)
def test_whom_nothing_is_sent_to(purpose: str, decision: str, contacted: bool) -> None:
    patient = builders.patient()
    decide(patient, decision, purpose=purpose)
    assert choices.not_contacted().filter(pk=patient.pk).exists() is not contacted


def test_that_somebody_opted_out_since_a_moment_is_known() -> None:
    patient = builders.patient()
    decide(patient, "given")
    assert not choices.ended_since(BEFORE)
    decide(patient, "from_now_on")
    assert choices.ended_since(BEFORE)
    assert not choices.ended_since(NOW + timedelta(seconds=1))


def test_ways_lead_to_the_patient_and_nowhere_else() -> None:
    assert choices.way_to_patient(Patient) == ""
    assert choices.way_to_patient(Film) == "injury__patient"
    assert choices.ways_to_patient(Site) == []
    with pytest.raises(ValueError, match="do not lead to a patient"):
        choices.way_to_patient(Reply)
    assert [optional for _, optional in choices.ways_to_patient(ImportRow)] == [True, True]
    for model in apps.get_models():
        for way, _ in choices.ways_to_patient(model):
            assert model._base_manager.filter(**{way or "pk": 0}).count() == 0


def test_nothing_is_shared_of_who_refused_that_left_or_was_erased() -> None:
    shared, refused, later, wholly, voided, back = (builders.patient() for _ in range(6))
    decide(shared, "opted_out", purpose="contact")
    decide(refused, "opted_out", purpose="sharing")
    decide(later, "from_now_on")
    decide(wholly, "opted_out")
    decide(back, "opted_out", TODAY - timedelta(days=2), purpose="sharing")
    decide(back, "given", purpose="sharing")
    Patient.objects.filter(pk=voided.pk).update(
        voided_at=NOW, voided_by=voided.recorded_by, void_reason="erased"
    )
    assert set(choices.not_shared()) == {one.key for one in (refused, later, wholly, voided)}
