from datetime import date
from typing import Any

import pytest

from registry.exchange.fhir import patients
from registry.models import Patient
from registry.models.identities import Identity
from registry.selectors import fhir_rows
from registry.services import patients as service
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir import valid
from tests.fhir_rows import lead, surgeon_sees

pytestmark = pytest.mark.django_db


def written(row: Patient, seer: fhir_rows.Seer | None = None) -> dict[str, Any]:
    seen = fhir_rows.patients(seer or surgeon_sees()).get(pk=row.pk)
    return valid(patients.patient(seen, named=bool(seen.named_at), numbers=seen.numbers_seen))


def test_who_may_see_names_gets_a_whole_patient() -> None:
    person = builders.patient(family_name="Quill", given_name="Mary Ann", phone="0555 1")
    made = written(person)
    assert made["id"] == person.key
    assert made["name"] == [{"use": "official", "family": "Quill", "given": ["Mary", "Ann"]}]
    assert (made["gender"], made["birthDate"]) == ("female", "1980-05-17")
    assert made["telecom"] == [{"system": "phone", "value": "0555 1"}]
    assert made["identifier"][1]["value"] == person.identifiers.get().value
    assert "security" not in made["meta"]


def test_who_may_not_see_names_gets_the_key_and_is_told_so() -> None:
    person = builders.patient(family_name="Quill")
    made = written(person, fhir_rows.taker(lead()))
    assert made["meta"]["security"][0]["code"] == "MASKED"
    assert [one["value"] for one in made["identifier"]] == [person.key]
    for element in (made["name"][0], made["_birthDate"], made["_gender"]):
        assert element["extension"][0]["valueCode"] == "masked"
    assert "Quill" not in str(made)
    assert "1980" not in str(made)


@pytest.mark.parametrize(
    ("earliest", "latest", "born"),
    [
        (date(1980, 5, 1), date(1980, 5, 31), "1980-05"),
        (date(1980, 1, 1), date(1980, 12, 31), "1980"),
        (date(1980, 5, 3), date(1980, 5, 9), None),
    ],
)
def test_a_birth_known_in_part_is_partial_and_never_invented(
    earliest: date, latest: date, born: str | None
) -> None:
    made = written(builders.patient(birth_earliest=earliest, birth_latest=latest))
    assert made.get("birthDate") == born
    assert ("_birthDate" in made) is (born is None)


def test_a_death_is_said_with_its_day() -> None:
    person = builders.patient()
    service.change_status(
        patient=person,
        status="died",
        on=date(2026, 10, 3),
        note="told",
        expected_version=1,
        by=person.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert written(person)["deceasedDateTime"] == "2026-10-03"


def test_an_erased_patient_stays_under_the_key_alone() -> None:
    person = builders.patient()
    Identity.objects.filter(patient=person).delete()
    assert written(person)["meta"]["security"][0]["code"] == "MASKED"


def test_both_of_a_merge_point_at_each_other() -> None:
    kept, other = builders.patient(), builders.patient()
    builders.merged(kept, other)
    assert written(kept)["link"] == [
        {"other": {"reference": f"Patient/{other.key}"}, "type": "replaces"}
    ]
    gone = fhir_rows.merged_patient(surgeon_sees(), other.key)
    assert gone is not None
    told = valid(patients.merged(gone))
    assert told["active"] is False
    assert told["link"][0] == {"other": {"reference": f"Patient/{kept.key}"}, "type": "replaced-by"}


def test_a_site_is_named_by_its_code() -> None:
    assert patients.at_site("north")["identifier"]["value"] == "north"
