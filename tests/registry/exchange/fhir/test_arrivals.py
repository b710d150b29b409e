from datetime import date
from typing import Any

import pytest

from registry.exchange.fhir import arrivals, terms
from registry.rules.fhir.reading import Node, unread
from tests.fhir_bodies import BASE, CONDITION, PATIENT, PROCEDURE, number, ours


def node(body: dict[str, Any], **changes: Any) -> Node:
    whole = {**body, **changes}
    given = {name: value for name, value in whole.items() if value is not None}
    return Node.of(given, str(body["resourceType"]))


def words(one: Node) -> dict[str, str]:
    return {issue.expression: issue.words for issue in one.issues}


def test_every_element_of_the_bodies_is_read() -> None:
    for read, body in (
        (arrivals.patient, PATIENT),
        (arrivals.injury, CONDITION),
        (arrivals.operation, PROCEDURE),
    ):
        one = node(body)
        read(one)
        assert words(one) == {}
        assert unread(one) == []


def test_what_has_no_place_is_told_and_not_dropped_in_silence() -> None:
    one = node(
        PATIENT,
        maritalStatus={"text": "married"},
        name=[{"use": "nickname", "family": "Zed", "given": ["Z"]}, *PATIENT["name"]],
        text={"status": "generated", "div": "<div/>"},
    )
    came = arrivals.patient(one)
    assert came.identity["family_name"] == "Ferncastle"
    assert {issue.expression for issue in unread(one)} == {
        "Patient.maritalStatus",
        "Patient.name[0].family",
        "Patient.name[0].given",
        "Patient.text",
    } or {issue.expression for issue in unread(one)} == {
        "Patient.maritalStatus",
        "Patient.name[0]",
        "Patient.text",
    }


@pytest.mark.parametrize("name", ["modifierExtension", "implicitRules", "contained"])
def test_what_would_change_the_meaning_is_refused(name: str) -> None:
    one = node(PATIENT, **{name: [{"url": "x"}]})
    arrivals.patient(one)
    assert f"Patient.{name}" in words(one)


def test_a_code_beside_ours_is_told() -> None:
    both = [
        {"system": "http://snomed.info/sct", "code": "58150001"},
        *ours("injury-kind", "ac_joint")["coding"],
    ]
    one = node(CONDITION, code={"coding": both})
    assert arrivals.injury(one).values["kind"] == "ac_joint"
    assert [issue.expression for issue in unread(one)] == ["Condition.code.coding[0]"]


def test_bounds_come_as_a_period_and_a_birth_date_that_is_masked_is_asked_for() -> None:
    period = {"start": "2026-02", "end": "2026-03-04"}
    came = arrivals.injury(node(CONDITION, onsetDateTime=None, onsetPeriod=period))
    assert came.values["injured_earliest"] == date(2026, 2, 1)
    assert came.values["injured_latest"] == date(2026, 3, 4)
    swapped = node(
        CONDITION, onsetDateTime=None, onsetPeriod={"start": "2026-03", "end": "2026-01"}
    )
    arrivals.injury(swapped)
    assert "before the first" in words(swapped)["Condition.onsetPeriod.end"]
    masked = {
        "extension": [
            {
                "url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason",
                "valueCode": "masked",
            }
        ]
    }
    one = node(PATIENT, birthDate=None, _birthDate=masked)
    arrivals.patient(one)
    assert "masked" in words(one)["Patient.birthDate"]


def test_an_edition_that_is_not_kept_is_refused() -> None:
    stage = {"summary": {"coding": [{**ours("neer", "IIB")["coding"][0], "version": "1968"}]}}
    one = node(CONDITION, stage=[stage])
    arrivals.injury(one)
    assert "Craig 1990" in words(one)["Condition.stage[0].summary.coding[0].version"]


def test_an_address_in_parts_is_one_text() -> None:
    parts = {"line": ["1 Old Square", "Flat 2"], "city": "Merrow", "postalCode": "ZZ1"}
    came = arrivals.patient(node(PATIENT, address=[parts]))
    assert came.identity["address"] == "1 Old Square, Flat 2, ZZ1, Merrow"


def test_parts_and_facts_need_their_construct_type() -> None:
    one = node(PROCEDURE, usedCode=None)
    arrivals.operation(one)
    assert "construct" in words(one)["Procedure.usedCode"]
    foreign = node(PROCEDURE, usedCode=[{"text": "a plate"}])
    arrivals.operation(foreign)
    assert "by a code of" in words(foreign)["Procedure.usedCode[0].coding"]


def test_only_what_went_in_or_came_out_is_recorded() -> None:
    device = {**PROCEDURE["focalDevice"][0]}
    device["action"] = {"coding": [{"system": "x", "code": "manipulated"}]}
    one = node(PROCEDURE, focalDevice=[device])
    arrivals.operation(one)
    assert "Procedure.focalDevice[0].action" in words(one)


def test_our_own_key_is_no_number_of_another_system() -> None:
    key = {"system": terms.canonical(terms.IDENTIFIER, "key"), "value": "K"}
    came = arrivals.patient(node(PATIENT, identifier=[key, *number("P-1")]))
    assert came.numbers == [("urn:oid:1.2.3.4", "P-1")]
    half = node(PATIENT, identifier=[{"value": "7"}])
    arrivals.patient(half)
    assert "system and its value" in words(half)["Patient.identifier[0]"]


def test_a_death_without_its_day_is_asked_for() -> None:
    one = node(PATIENT, deceasedBoolean=True)
    arrivals.patient(one)
    assert "deceasedDateTime" in words(one)["Patient.deceasedBoolean"]


def test_a_site_is_named_by_our_codes() -> None:
    one = node(PATIENT, managingOrganization={"identifier": {"system": "x", "value": "north"}})
    arrivals.patient(one)
    assert f"{BASE}/identifier/site" in words(one)["Patient.managingOrganization.identifier.system"]


def test_a_suspected_injury_is_not_recorded() -> None:
    one = node(CONDITION, verificationStatus={"coding": [{"code": "provisional"}]})
    arrivals.injury(one)
    assert "confirmed" in words(one)["Condition.verificationStatus.coding[0].code"]


def test_helpers_of_the_readers_say_what_is_missing() -> None:
    one = node(PATIENT, birthDate="1975-08")
    assert arrivals.dated(one, "birthDate", exact=True) is None
    assert "lacks the day" in words(one)["Patient.birthDate"]
    assert arrivals.extensions(one, "quantity") == []
    assert arrivals.one_code(one.child("nothing"), "side") == ""
    assert arrivals.common(node(PATIENT))["checked"] is False
