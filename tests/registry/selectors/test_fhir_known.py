from datetime import date

import pytest

from registry.models.foreign_numbers import ForeignNumber
from registry.selectors import fhir_known
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
HERE = ("hospital number", "x")


def test_patients_are_known_by_any_of_their_numbers_at_a_site() -> None:
    person = builders.patient()
    number = ("hospital number", person.identifiers.get().value)
    assert fhir_known.patients_numbered(person.site, [HERE, number]) == [person]
    assert fhir_known.patients_numbered(builders.site("south"), [number]) == []


def test_rows_are_known_by_the_number_of_their_own_kind() -> None:
    row = builders.injury()
    ForeignNumber.objects.create(site=row.site, system="urn:a", value="7", injury=row, kept_at=NOW)
    assert fhir_known.row_numbered(row.site, "Condition", [("urn:a", "7")]) == row
    assert fhir_known.row_numbered(row.site, "Procedure", [("urn:a", "7")]) is None


def test_a_reference_leads_to_a_row_that_is_theirs() -> None:
    row = builders.injury()
    connie = builders.person("connie", north="coordinator")
    outsider = builders.person("otto", south="coordinator")
    reference = f"Condition/{row.pk}"
    assert fhir_known.referred(connie, row.site, "Condition", reference, None) == row
    assert fhir_known.referred(outsider, row.site, "Condition", reference, None) is None
    assert fhir_known.referred(connie, row.site, "Procedure", reference, None) is None
    assert fhir_known.referred(connie, row.site, "Condition", "Condition/x", None) is None
    elsewhere = f"https://x/fhir/r4/Condition/{row.pk}"
    assert fhir_known.referred(connie, row.site, "Condition", elsewhere, None) is None


def test_a_conditional_reference_leads_only_to_what_is_theirs() -> None:
    person = builders.patient()
    number = ("hospital number", person.identifiers.get().value)
    connie = builders.person("connie", north="coordinator")
    outsider = builders.person("otto", south="coordinator")
    assert fhir_known.referred(connie, person.site, "Patient", "Patient?x", number) == person
    assert fhir_known.referred(outsider, person.site, "Patient", "Patient?x", number) is None


def test_who_is_alike_is_found_but_for_those_said_to_be_another() -> None:
    person = builders.patient(family_name="Quill", given_name="Brisa")
    identity = {
        "family_name": "Quill",
        "given_name": "Brisa",
        "birth_earliest": date(1980, 5, 17),
        "birth_latest": date(1980, 5, 17),
        "sex": "female",
    }
    connie = builders.person("connie", north="coordinator")
    (found,) = fhir_known.alike(connie, identity, [], leave_out=[])
    assert found.patient == person
    assert fhir_known.alike(connie, identity, [], leave_out=[person]) == []


def test_age_and_delay_are_those_that_limits_judge() -> None:
    row = builders.injury()
    assert fhir_known.age_at(row.patient, date(2026, 6, 1)) == {"age_years": 46}
    assert fhir_known.age_at(row.patient, date(1900, 6, 1)) == {}
    first = {"performed_on": date(2026, 6, 11), "kind": "fixation"}
    assert fhir_known.delay(row, first) == {"days_from_injury": 10}
    assert fhir_known.delay(row, {**first, "kind": "washout"}) == {}
