"""Opening a patient of another site in an emergency: for whom, for how long, and what follows."""

from datetime import timedelta
from typing import Any

import pytest

from registry.errors import BadInput, IllegalTransition, NotAllowed
from registry.models import AuditEntry, EmergencyAccess, Patient, PatientSite, Person
from registry.services import emergencies
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
WHY = "brought in by ambulance after a fall"


@pytest.fixture
def sam() -> Person:
    return builders.person("sam", south="surgeon")


def opened(by: Person, patient: Patient | None = None, **changes: Any) -> list[EmergencyAccess]:
    given: dict[str, Any] = {"reason": WHY, "now": NOW, "today": TODAY, **changes}
    return emergencies.open_patient(patient=patient or builders.patient(), by=by, **given)


def test_an_access_is_of_one_site_for_an_hour_and_to_be_looked_at_within_a_week(
    sam: Person,
) -> None:
    (one,) = opened(sam)
    assert (one.person, one.site.code, one.reason) == (sam, "north", WHY)
    assert one.ends_at - one.opened_at == timedelta(hours=1)
    assert one.look_by == TODAY + timedelta(days=7)
    entry = AuditEntry.objects.get(table="registry_emergencyaccess")
    assert (entry.person_id, entry.reason) == (sam.pk, f"emergency: {WHY}")


def test_how_long_is_a_setting(sam: Person, settings: Any) -> None:
    settings.EMERGENCY_MINUTES, settings.EMERGENCY_LOOK_DAYS = 15, 2
    (one,) = opened(sam)
    assert one.ends_at - one.opened_at == timedelta(minutes=15)
    assert one.look_by == TODAY + timedelta(days=2)


def test_each_site_that_treats_the_patient_has_an_access_of_its_own(sam: Person) -> None:
    patient = builders.patient()
    PatientSite.objects.create(patient=patient, site=builders.site("east"))
    assert {one.site.code for one in opened(sam, patient)} == {"north", "east"}


def test_opening_twice_opens_once_and_again_when_it_has_ended(sam: Person) -> None:
    patient = builders.patient()
    assert opened(sam, patient) == opened(sam, patient, now=NOW + timedelta(minutes=59))
    later = opened(sam, patient, now=NOW + timedelta(minutes=60))
    assert EmergencyAccess.objects.count() == 2
    assert later[0].opened_at == NOW + timedelta(minutes=60)


@pytest.mark.parametrize("reason", ["", " ", "urgent", "x" + " " * 30])
def test_a_reason_says_something(sam: Person, reason: str) -> None:
    with pytest.raises(BadInput, match="at least 20 letters"):
        opened(sam, reason=reason)
    assert not EmergencyAccess.objects.exists()


@pytest.mark.parametrize("role", ["film_reader", "quality_lead", "administrator"])
def test_who_looks_after_no_patients_opens_none(role: str) -> None:
    with pytest.raises(NotAllowed):
        opened(builders.person("other", south=role))


def test_who_sees_the_patient_anyway_needs_no_emergency() -> None:
    with pytest.raises(BadInput, match="anyway"):
        opened(builders.person("selma", north="surgeon"))


def test_ending_ends_it_at_every_site_and_only_ones_own(sam: Person) -> None:
    patient = builders.patient()
    PatientSite.objects.create(patient=patient, site=builders.site("east"))
    mine = opened(sam, patient)
    (other,) = opened(builders.person("ines", south="coordinator", east="surgeon"), patient)
    later = NOW + timedelta(minutes=5)
    assert emergencies.end(access=mine[0], by=sam, now=later) == 2
    assert emergencies.end(access=mine[0], by=sam, now=later) == 0
    other.refresh_from_db()
    assert other.ends_at == NOW + timedelta(hours=1)


def test_somebody_else_looks_once_and_says_what_they_found(sam: Person) -> None:
    (one,) = opened(sam)
    lead = builders.person("quentin", north="quality_lead")
    with pytest.raises(BadInput, match="somebody else"):
        emergencies.record_finding(access=one, finding="fine", by=sam, now=NOW)
    with pytest.raises(BadInput, match="what you found"):
        emergencies.record_finding(access=one, finding=" ", by=lead, now=NOW)
    done = emergencies.record_finding(access=one, finding="they were there", by=lead, now=NOW)
    assert (done.finding, done.looked_by, done.looked_at) == ("they were there", lead, NOW)
    with pytest.raises(IllegalTransition):
        emergencies.record_finding(access=one, finding="again", by=lead, now=NOW)
