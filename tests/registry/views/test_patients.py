"""Finding patients, and correcting who they are."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, Consent, Identifier, Identity, Patient, Person
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY
from tests.looked import looked_for, named_on

pytestmark = pytest.mark.django_db
IDENTITY = {
    "family_name": "Corrected",
    "given_name": "Iris",
    "birth_date": "1980-05",
    "sex": "female",
    "preferred_means": "email",
    "language": "en",
    "version": "1",
}


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def test_the_search_finds_by_name_and_links_to_the_patient(here: Client) -> None:
    patient = builders.patient(family_name="Quill")
    builders.patient(family_name="Other")
    page = looked_for(here, "quill").content.decode()
    assert reverse("patient", args=[patient.key]) in page
    assert "Other, Ada" not in page


def test_an_empty_search_teaches_what_to_write(here: Client) -> None:
    page = looked_for(here, "nobody").content.decode()
    assert "Names are found by any part" in page


def test_what_was_searched_is_shown_as_text_and_never_as_markup(here: Client) -> None:
    page = looked_for(here, "<script>alert(1)</script>").content.decode()
    assert "<script>alert(1)" not in page


def test_a_page_that_does_not_exist_shows_the_last_one(here: Client) -> None:
    builders.patient()
    assert here.get(reverse("patients"), {"page": "999"}).status_code == 200


def test_a_quality_lead_may_not_see_who_patients_are(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    assert client.get(reverse("patients")).status_code == 403


def test_an_identity_is_corrected_with_a_partial_birth_date(here: Client) -> None:
    patient = builders.patient()
    answer = here.post(reverse("patient-identity", args=[patient.key]), IDENTITY)
    assert answer.url == reverse("patient", args=[patient.key])
    row = Identity.objects.get()
    assert (row.family_name, row.birth_earliest, row.birth_latest) == (
        "Corrected",
        date(1980, 5, 1),
        date(1980, 5, 31),
    )


def test_two_browsers_see_both_versions_and_the_second_try_wins(here: Client) -> None:
    patient = builders.patient()
    where = reverse("patient-identity", args=[patient.key])
    here.post(where, {**IDENTITY, "phone": "111"})
    conflict = here.post(where, {**IDENTITY, "phone": "222", "family_name": "Mine"})
    page = conflict.content.decode()
    assert conflict.status_code == 409
    assert "Somebody else saved this first" in page
    assert "111" in page
    assert "222" in page
    assert 'name="version" value="2"' in page
    assert Identity.objects.get().phone == "111"
    here.post(where, {**IDENTITY, "phone": "222", "version": "2"})
    assert Identity.objects.get().phone == "222"


def test_a_means_that_is_both_preferred_and_refused_is_refused(here: Client) -> None:
    patient = builders.patient()
    sent = {**IDENTITY, "refused_means": ["email"]}
    page = here.post(reverse("patient-identity", args=[patient.key]), sent).content.decode()
    assert "also marked as not wanted" in page


def test_opening_an_identity_is_written_down(here: Client, coordinator: Person) -> None:
    patient = builders.patient()
    here.get(reverse("patient-identity", args=[patient.key]))
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.row_id, entry.person_id, entry.reason) == (
        "read",
        str(patient.pk),
        coordinator.pk,
        "patient-identity",
    )


def test_a_number_is_added_and_a_taken_one_is_refused_by_its_field(here: Client) -> None:
    patient, other = builders.patient(), builders.patient()
    where = reverse("patient-number-add", args=[patient.key])
    sent = {"site": patient.site_id, "issuing_system": "national number", "value": "42"}
    here.post(where, sent)
    assert patient.identifiers.count() == 2
    taken = {**sent, "issuing_system": "hospital number", "value": other.identifiers.get().value}
    assert "already belongs" in here.post(where, taken).content.decode()


def test_a_number_is_taken_away_with_a_reason(here: Client) -> None:
    number = builders.patient().identifiers.get()
    where = reverse("number-remove", args=[number.pk])
    here.post(where, {"version": "1", "reason": ""})
    assert Identifier.objects.exists()
    here.post(where, {"version": "1", "reason": "of another person"})
    assert not Identifier.objects.exists()


def test_another_sites_number_is_not_there(client: Client, outsider: Person) -> None:
    number = builders.patient().identifiers.get()
    client.force_login(outsider)
    assert client.get(reverse("number-remove", args=[number.pk])).status_code == 404


def test_a_death_is_recorded_and_its_missing_date_asked_for(here: Client) -> None:
    patient = builders.patient()
    where = reverse("patient-status", args=[patient.key])
    refused = here.post(where, {"version": "1", "status": "died", "note": ""})
    assert "Give the date" in refused.content.decode()
    here.post(where, {"version": "1", "status": "died", "status_on": "2026-11-01", "note": ""})
    assert Patient.objects.get().status == "died"


def test_a_state_changed_meanwhile_is_shown_beside_mine(here: Client) -> None:
    patient = builders.patient()
    patients.change_status(
        patient=patient,
        status="moved",
        on=TODAY,
        note="",
        expected_version=1,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    sent = {"version": "1", "status": "died", "status_on": "2026-11-01"}
    answer = here.post(reverse("patient-status", args=[patient.key]), sent)
    assert answer.status_code == 409
    assert "Moved away" in answer.content.decode()


def test_an_opt_out_is_recorded_with_its_basis(here: Client) -> None:
    patient = builders.patient()
    sent = {
        "purpose": "contact",
        "decision": "opted_out",
        "decided_on": "2026-11-20",
        "basis": "letter",
        "told_by": "patient",
        "channel": "letter",
    }
    here.post(reverse("patient-consent", args=[patient.key]), sent)
    made = Consent.objects.get()
    assert (made.decision, made.told_by, made.channel) == ("opted_out", "patient", "letter")
    page = here.get(reverse("patient-consent", args=[patient.key])).content.decode()
    assert "told by the patient, by letter or signed form" in page
    assert "A snapshot or pack that was made before is a record and stays as it is" in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"channel": ""}, "This field is required"),
        ({"told_by": "neighbour"}, "Select a valid choice"),
        ({"purpose": "contact"}, "Only the use in the registry can end from a day on."),
        ({"decided_on": "2999-01-01"}, "is in the future"),
    ],
)
def test_an_opt_out_that_is_not_told_whole_is_not_recorded(
    here: Client, change: dict[str, str], said: str
) -> None:
    patient = builders.patient()
    sent = {
        "purpose": "registry",
        "decision": "from_now_on",
        "decided_on": "2026-11-20",
        "basis": "letter",
        "told_by": "patient",
        "channel": "letter",
        **change,
    }
    page = here.post(reverse("patient-consent", args=[patient.key]), sent).content.decode()
    assert said in page
    assert not Consent.objects.exists()


def test_the_history_tells_what_was_changed(here: Client) -> None:
    patient = builders.patient()
    here.post(reverse("patient-identity", args=[patient.key]), IDENTITY)
    page = here.get(reverse("patient-history", args=[patient.key])).content.decode()
    assert "identity changed" in page
    assert "patient recorded" in page


@pytest.mark.parametrize(
    "name", ["patient-identity", "patient-status", "patient-consent", "patient-history"]
)
def test_another_sites_patient_looks_like_nobody(
    client: Client, outsider: Person, name: str
) -> None:
    client.force_login(outsider)
    assert client.get(reverse(name, args=[builders.patient().key])).status_code == 404


def test_whom_a_page_of_the_search_named_is_written_down_in_one_entry(here: Client) -> None:
    found = {builders.patient(family_name="Quill").key for _ in range(3)}
    builders.patient(family_name="Other")
    looked_for(here, "quill")
    assert named_on("patients") == [sorted(found)]
    looked_for(here, "nobody")
    assert len(named_on("patients")) == 1
