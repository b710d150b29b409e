from datetime import date

import pytest

from registry.exchange.fhir import procedures
from registry.selectors import fhir_rows
from registry.services import implants, records
from tests import builders
from tests.builders import NOW
from tests.fhir import valid
from tests.fhir_rows import seen

pytestmark = pytest.mark.django_db


def test_an_operation_says_kind_construct_and_what_went_in() -> None:
    row = builders.procedure(surgeon=builders.person("op", north="surgeon"), note="as planned")
    part = implants.add_part(
        construct=row.construct,
        given=implants.PartGiven("plate", "plate"),
        by=row.recorded_by,
        now=NOW,
    )
    made = valid(procedures.procedure(seen(fhir_rows.procedures, row), by_name=True))
    assert made["code"]["coding"][0]["code"] == "fixation"
    assert made["performedDateTime"] == "2026-06-05"
    assert made["usedCode"][0]["coding"][0]["code"] == "LP"
    assert made["focalDevice"] == [
        {
            "action": {
                "coding": [{"system": "http://hl7.org/fhir/device-action", "code": "implanted"}]
            },
            "manipulated": {"reference": f"Device/{part.pk}"},
        }
    ]
    assert made["performer"][0]["actor"]["identifier"]["value"] == "op"
    assert made["note"] == [{"text": "as planned"}]


def test_without_names_neither_surgeon_nor_free_text_is_said() -> None:
    row = builders.procedure(surgeon=builders.person("op", north="surgeon"), note="as planned")
    made = valid(procedures.procedure(seen(fhir_rows.procedures, row), by_name=False))
    assert not {"performer", "note", "identifier"} & set(made)


def test_a_removal_takes_out_the_parts_of_what_it_revises() -> None:
    first = builders.procedure()
    part = implants.add_part(
        construct=first.construct,
        given=implants.PartGiven("plate", "plate"),
        by=first.recorded_by,
        now=NOW,
    )
    removal = builders.procedure(
        first.injury, kind="implant_removal", revises=first, performed_on=date(2026, 9, 1)
    )
    made = valid(procedures.procedure(seen(fhir_rows.procedures, removal), by_name=True))
    actions = {
        one["manipulated"]["reference"]: one["action"]["coding"][0]["code"]
        for one in made["focalDevice"]
    }
    assert actions == {f"Device/{part.pk}": "explanted"}
    assert made["partOf"] == [{"reference": f"Procedure/{first.pk}"}]


def test_a_voided_operation_was_entered_in_error_and_a_voided_construct_is_not_there() -> None:
    row = builders.procedure()
    records.void(row.construct, by=row.recorded_by, now=NOW, expected_version=1, reason="wrong")
    records.void(row, by=row.recorded_by, now=NOW, expected_version=1, reason="wrong")
    shown = seen(fhir_rows.procedures, row, voided=True)
    assert procedures.construct_of(shown) is None
    made = valid(procedures.procedure(shown, by_name=True))
    assert made["status"] == "entered-in-error"
    assert "usedCode" not in made


def test_a_construct_type_is_an_item_that_was_used() -> None:
    kind = builders.construct_type("HP")
    assert procedures.used(kind)["coding"][0]["display"] == kind.name
