from datetime import date

import pytest

from registry.exchange.fhir import injuries
from registry.models.foreign_numbers import ForeignNumber
from registry.selectors import fhir_rows
from registry.services import enrolment, records
from tests import builders
from tests.builders import NOW
from tests.fhir import valid
from tests.fhir_rows import seen

pytestmark = pytest.mark.django_db


def test_an_injury_is_a_condition_with_its_class_side_and_date() -> None:
    row = builders.injury(side="right", classes={"neer": "IIB"})
    made = valid(injuries.condition(seen(fhir_rows.injuries, row), named=True))
    assert made["subject"]["reference"] == f"Patient/{row.patient.key}"
    assert made["onsetDateTime"] == "2026-06-01"
    assert made["bodySite"][0]["coding"][0]["code"] == "right"
    assert made["bodySite"][0]["text"] == "Right shoulder"
    (stage,) = made["stage"]
    assert stage["summary"]["coding"][0]["version"] == "Craig 1990"
    assert stage["summary"]["text"] == "Neer IIB"
    assert made["verificationStatus"]["coding"][0]["code"] == "confirmed"


def test_an_earlier_opinion_is_not_sent() -> None:
    row = builders.injury(classes={"neer": "IIB"})
    enrolment.classify(
        injury=row, system="neer", code="V", opinion_of=None, by=row.recorded_by, now=NOW
    )
    made = injuries.condition(seen(fhir_rows.injuries, row), named=True)
    assert [one["summary"]["coding"][0]["code"] for one in made["stage"]] == ["V"]


def test_an_injury_known_by_its_year_has_that_year() -> None:
    row = builders.injury(injured_earliest=date(2025, 1, 1), injured_latest=date(2025, 12, 31))
    made = valid(injuries.condition(seen(fhir_rows.injuries, row), named=True))
    assert made["onsetDateTime"] == "2025"


def test_a_voided_injury_was_entered_in_error() -> None:
    row = builders.injury()
    records.void(row, by=row.recorded_by, now=NOW, expected_version=1, reason="twice")
    made = valid(injuries.condition(seen(fhir_rows.injuries, row, voided=True), named=True))
    assert made["verificationStatus"]["coding"][0]["code"] == "entered-in-error"
    assert made["meta"]["versionId"] == "2"


def test_numbers_of_other_systems_go_with_the_names() -> None:
    row = builders.injury()
    ForeignNumber.objects.create(site=row.site, system="urn:a", value="7", injury=row, kept_at=NOW)
    shown = seen(fhir_rows.injuries, row)
    numbers = [{"system": "urn:a", "value": "7"}]
    assert valid(injuries.condition(shown, named=True))["identifier"] == numbers
    assert "identifier" not in injuries.condition(shown, named=False)
    assert injuries.foreign_numbers(shown) == numbers


def test_a_side_and_a_class_are_written_in_words_too() -> None:
    assert injuries.body_site("left")["text"] == "Left shoulder"
    one = builders.injury(classes={"ao_ota": "15.3A"}).classifications.get()
    assert injuries.stage(one)["type"]["coding"][0]["display"] == "AO/OTA"
