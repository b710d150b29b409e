"""A transaction by a program, and the whole way: sent, read, taken away in bulk, and still the same."""

import json
from pathlib import Path
from typing import Any

import pytest

from followup.services import bulk_exports
from registry.models import Patient, Person
from tests import api, builders, fhir_published
from tests.api import Program
from tests.builders import NOW
from tests.fhir import content_of, valid
from tests.fhir_bodies import (
    CONDITION,
    DEVICE,
    HOSPITAL,
    PATIENT,
    PROCEDURE,
    Json,
    ours,
    transaction,
)

pytestmark = pytest.mark.django_db
BASE = "/fhir/r4/"
ASYNC = {"Prefer": "respond-async"}


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path, defaults: None) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def both() -> Program:
    """Return a program of somebody who enrols, sees names and takes data."""
    return api.signed_in(builders.person("both", north="coordinator+quality_lead"))


def send(program: Program, bundle: Json, status: int = 200) -> Json:
    answer = program.post(BASE, json.dumps(bundle), content_type="application/fhir+json")
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"].startswith("application/fhir+json")
    return valid(answer.json())


def test_the_answer_says_of_each_entry_where_it_is(both: Program) -> None:
    made = send(both, transaction(patient={"maritalStatus": {"text": "x"}}))
    assert made["type"] == "transaction-response"
    responses = [one["response"] for one in made["entry"]]
    assert {one["status"] for one in responses} == {"201 Created"}
    for one, kind in zip(responses, ("Patient", "Condition", "Procedure", "Device"), strict=True):
        address, _, version = one["location"].partition("/_history/")
        read = both.get(f"{BASE}{address}")
        assert read["ETag"] == one["etag"] == f'W/"{version}"'
        assert read.json()["resourceType"] == kind
    (issue,) = responses[0]["outcome"]["issue"]
    assert (issue["severity"], issue["expression"]) == (
        "warning",
        ["Bundle.entry[0].resource.maritalStatus"],
    )
    assert "outcome" not in responses[1]
    again = send(both, transaction())
    assert {one["response"]["status"] for one in again["entry"]} == {"200 OK"}
    assert [one["response"]["location"].partition("/_")[0] for one in again["entry"]] == [
        one["location"].partition("/_")[0] for one in responses
    ]


def test_what_is_wrong_is_an_outcome_with_its_places(both: Program) -> None:
    told = send(both, transaction(condition={"code": {"text": "broken"}}), 400)
    (issue,) = told["issue"]
    assert issue["expression"] == ["Bundle.entry[1].resource.code.coding"]
    assert not Patient.objects.exists()


def test_what_is_no_json_or_too_large_is_refused_in_the_same_way(both: Program) -> None:
    answer = both.post(BASE, "{", content_type="application/fhir+json")
    assert (answer.status_code, valid(answer.json())["issue"][0]["code"]) == (400, "invalid")
    wrong = both.post(BASE, "<Bundle/>", content_type="application/fhir+xml")
    assert (wrong.status_code, valid(wrong.json())["issue"][0]["code"]) == (415, "not-supported")
    large = both.post(BASE, "x" * 5_000_001, content_type="application/fhir+json")
    assert (large.status_code, valid(large.json())["issue"][0]["code"]) == (413, "too-costly")


def test_who_may_not_enrol_sends_nothing(quality_lead: Person) -> None:
    told = send(api.signed_in(quality_lead), transaction(), 403)
    assert told["issue"][0]["code"] == "forbidden"
    assert Program().post(BASE, "{}", content_type="application/fhir+json").status_code == 401


def test_addresses_of_another_server_lead_within_the_transaction(both: Program) -> None:
    text = json.dumps(transaction())
    places = {
        "patient": "Patient/1",
        "injury": "Condition/12",
        "operation": "Procedure/7",
        "part": "Device/3",
    }
    for name, place in places.items():
        text = text.replace(f'"fullUrl": "urn:uuid:{name}"', f'"fullUrl": "http://h/{place}"')
        text = text.replace(f"urn:uuid:{name}", place)
    made = send(both, json.loads(text))
    assert [one["response"]["status"] for one in made["entry"]] == ["201 Created"] * 4
    # The same numbers at this server are other rows, and none of theirs.
    patient = made["entry"][0]["fullUrl"].rpartition("/")[2]
    injury = {
        "subject": {"reference": f"Patient/{patient}"},
        "identifier": [{"system": HOSPITAL, "value": "C-2"}],
        "bodySite": [ours("side", "right")],
    }
    bundle = transaction({**CONDITION, **injury})
    bundle["entry"][0]["fullUrl"] = "http://h/Condition/13"
    told = send(both, bundle, 400)
    assert f"'Patient/{patient}' leads to no Patient" in told["issue"][0]["diagnostics"]
    bundle["entry"][0]["fullUrl"] = "http://testserver/fhir/r4/Condition/13"
    send(both, bundle)


NOT_KEPT = {
    "Patient": {
        *("identifier[0].type", "identifier[0].period", "identifier[0].assigner"),
        *("name[1]", "name[2]", "telecom[0]", "telecom[2]", "telecom[3]", "managingOrganization"),
    },
    "Condition": {
        *("clinicalStatus", "category", "severity", "code.text", "code.coding[1]"),
        *("bodySite[0].text", "bodySite[0].coding[1]"),
    },
    "Procedure": {"code.text", "code.coding[1]", "performer", "reasonCode", "followUp"},
    "Device": {"type.text", "type.coding[1]"},
}
EXPIRED = "Expired on 2014-11-20, 136 days before the operation on 2015-04-05."


def test_the_published_examples_are_taken_in_and_what_is_not_kept_is_told(both: Program) -> None:
    made = send(both, fhir_published.bundle(fhir_published.completed()))
    told: dict[str, dict[str, str]] = {}
    read: dict[str, Json] = {}
    for one in made["entry"]:
        resource = both.get(one["fullUrl"].replace("http://testserver", "")).json()
        kind = resource["resourceType"]
        read[kind] = valid(resource)
        issues = one["response"]["outcome"]["issue"]
        told[kind] = {
            issue["expression"][0].partition("resource.")[2]: issue["diagnostics"]
            for issue in issues
        }
    assert told["Device"].pop("") == EXPIRED
    assert {kind: set(places) for kind, places in told.items()} == NOT_KEPT
    assert {words for one in told.values() for words in one.values()} == {
        "There is no place for this here; it was not kept."
    }
    patient, injury, operation, part = (read[kind] for kind in NOT_KEPT)
    assert patient["name"] == [
        {"use": "official", "family": "Chalmers", "given": ["Peter", "James"]}
    ]
    assert (patient["birthDate"], patient["gender"]) == ("1974-12-25", "male")
    assert "(03) 5555 6473" in json.dumps(patient["telecom"])
    assert {"12345", "urn:oid:1.2.36.146.595.217.0.1"} <= set(patient["identifier"][1].values())
    assert injury["onsetDateTime"] == "2012-05-24"
    assert operation["performedDateTime"] == "2015-04-05"
    assert operation["note"] == fhir_published.PROCEDURE["note"]
    for name in ("lotNumber", "serialNumber", "expirationDate"):
        assert part[name] == fhir_published.DEVICE[name]
    for name, value in fhir_published.DEVICE["udiCarrier"][0].items():
        assert part["udiCarrier"][0][name] == value


def test_a_published_example_as_it_is_is_refused_for_what_is_needed_here(both: Program) -> None:
    told = send(both, fhir_published.bundle([fhir_published.CONDITION]), 400)
    places = {issue["expression"][0].partition("resource.")[2] for issue in told["issue"]}
    assert places == {"identifier", "code.coding", "bodySite[0].coding"}
    *others, part = fhir_published.completed()
    two = {**part, "udiCarrier": [fhir_published.TWO_DEVICES]}
    told = send(both, fhir_published.bundle([*others, two]), 400)
    words = " ".join(issue["diagnostics"] for issue in told["issue"])
    assert "10857674002017 and 00844588003288" in words
    assert "NYFUL01 and 7654321D" in words
    assert not Patient.objects.exists()


def facts_of(resource: Json) -> Json:
    """Return what a resource says, without what this service adds to it."""
    codes = {
        name: sorted(
            (one["system"], one["code"])
            for place in (value if isinstance(value, list) else [value])
            for one in place.get("coding", [])
        )
        for name, value in resource.items()
        if name in ("code", "bodySite", "type", "usedCode", "verificationStatus")
    }
    plain = {
        name: resource[name]
        for name in (
            *("name", "gender", "birthDate", "telecom", "onsetDateTime", "performedDateTime"),
            *("status", "lotNumber", "serialNumber", "expirationDate", "deviceName", "udiCarrier"),
        )
        if name in resource
    }
    numbers = [one for one in resource["identifier"] if one["system"] == HOSPITAL]
    numbers = [{"system": one["system"], "value": one["value"]} for one in numbers]
    stages = [one["summary"]["coding"][0]["code"] for one in resource.get("stage", [])]
    return {**codes, **plain, "identifier": numbers, "stage": stages}


def test_the_whole_way_keeps_every_fact(both: Program) -> None:
    sent = {one["resourceType"]: one for one in (PATIENT, CONDITION, PROCEDURE, DEVICE)}
    made = send(both, transaction())
    read: dict[str, Json] = {}
    for one in made["entry"]:
        resource = both.get(one["fullUrl"].replace("http://testserver", "")).json()
        read[resource["resourceType"]] = valid(resource)
    for kind, body in sent.items():
        assert facts_of(read[kind]) == facts_of(body), kind
    assert read["Condition"]["subject"]["reference"] == f"Patient/{read['Patient']['id']}"
    focal = read["Procedure"]["focalDevice"][0]["manipulated"]["reference"]
    assert focal == f"Device/{read['Device']['id']}"
    where = both.get(f"{BASE}$export?_type={','.join(sent)}", headers=ASYNC)["Content-Location"]
    bulk_exports.make_waiting(now=NOW)
    taken: dict[str, Json] = {}
    for one in both.get(where).json()["output"]:
        (line,) = content_of(both.get(one["url"])).splitlines()
        taken[one["type"]] = json.loads(line)
    assert taken == read
