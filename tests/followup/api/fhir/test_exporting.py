"""The Bulk Data pattern as a program walks it: FHIR Bulk Data 3.0.0 (HL7, from memory)."""

import json
from pathlib import Path
from typing import Any

import pytest

from followup.api.fhir import exporting
from followup.models import BulkExport
from followup.services import bulk_exports
from registry.models import Person
from registry.rules.fhir.outcomes import Refused
from tests import api, builders
from tests.api import Program
from tests.builders import NOW
from tests.fhir import content_of, valid

pytestmark = pytest.mark.django_db
ASYNC = {"Prefer": "respond-async", "Accept": "application/fhir+json"}
EXPORT = "/fhir/r4/$export"


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    settings.CELERY_TASK_ALWAYS_EAGER = False


@pytest.fixture
def lead(quality_lead: Person) -> Program:
    return api.signed_in(quality_lead)


def kicked_off(program: Program, url: str = EXPORT, **headers: str) -> str:
    answer = program.get(url, headers={**ASYNC, **headers})
    assert answer.status_code == 202, answer.content
    valid(answer.json())
    return str(answer["Content-Location"])


def test_the_whole_way_from_asking_to_the_last_line(lead: Program) -> None:
    row = builders.injury()
    where = kicked_off(lead)
    waiting = lead.get(where)
    assert (waiting.status_code, waiting.content) == (202, b"")
    assert waiting["X-Progress"].startswith("0 of 13 types")
    assert waiting["Retry-After"] == "5"
    bulk_exports.make_waiting(now=NOW)
    ready = lead.get(where)
    assert ready.status_code == 200
    told = ready.json()
    assert told["transactionTime"].startswith("2026-11-25T09:0")
    assert told["request"] == f"http://testserver{EXPORT}"
    assert told["requiresAccessToken"] is True
    assert told["error"] == []
    assert ready["Expires"].startswith("Thu, 26 Nov 2026 09:0")
    urls = {one["type"]: (one["url"], one["count"]) for one in told["output"]}
    url, count = urls["Condition"]
    answer = lead.get(url, headers={"Accept": "application/fhir+ndjson"})
    assert answer["Content-Type"] == "application/fhir+ndjson"
    (line,) = content_of(answer).splitlines()
    assert valid(json.loads(line))["id"] == str(row.pk)
    assert count == 1
    assert content_of(lead.get(url)) == line + b"\n"


def test_a_copy_is_asked_for_by_post_with_parameters(lead: Program) -> None:
    sent = {
        "resourceType": "Parameters",
        "parameter": [
            {"name": "_type", "valueString": "Condition,Procedure"},
            {"name": "_since", "valueInstant": "2026-01-01T00:00:00Z"},
        ],
    }
    answer = lead.post(EXPORT, sent, headers=ASYNC)
    assert answer.status_code == 202
    export = BulkExport.objects.get()
    assert export.types == ["Condition", "Procedure"]
    assert export.since is not None
    assert export.since.isoformat() == "2026-01-01T00:00:00+00:00"


def test_what_belongs_to_patients_is_all_but_the_code_systems(lead: Program) -> None:
    kicked_off(lead, "/fhir/r4/Patient/$export")
    assert "CodeSystem" not in BulkExport.objects.get().types
    assert "Patient" in BulkExport.objects.get().types


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("?_type=Condition,Group", 202),
        ("?_type=Group", 400),
        ("?_since=yesterday", 400),
        ("?_outputFormat=text/csv", 400),
        ("?_outputFormat=ndjson", 202),
        ("?_elements=id", 202),
    ],
)
def test_what_is_not_known_is_passed_over_or_refused(
    lead: Program, query: str, status: int
) -> None:
    assert lead.get(EXPORT + query, headers=ASYNC).status_code == status
    strict = {**ASYNC, "Prefer": "respond-async, handling=strict"}
    due = 400 if query in ("?_type=Condition,Group", "?_elements=id") else status
    assert lead.get(EXPORT + query, headers=strict).status_code == due


def test_it_has_to_be_asked_for_asynchronously(lead: Program) -> None:
    answer = lead.get(EXPORT)
    assert answer.status_code == 400
    assert "respond-async" in valid(answer.json())["issue"][0]["diagnostics"]


def test_deleting_cancels_and_then_there_is_nothing(lead: Program) -> None:
    where = kicked_off(lead)
    assert lead.delete(where).status_code == 202
    assert lead.get(where).status_code == 404
    assert not BulkExport.objects.exists()


def test_nobody_else_is_told_of_a_copy(lead: Program) -> None:
    builders.injury()
    where = kicked_off(lead)
    bulk_exports.make_waiting(now=NOW)
    url = lead.get(where).json()["output"][0]["url"]
    other = api.signed_in(builders.person("other", north="quality_lead"))
    surgeon = api.signed_in(builders.person("surgeon2", north="surgeon"))
    for address in (where, url):
        assert other.get(address).status_code == 404
        assert surgeon.get(address).status_code == 403
        assert Program().get(address).status_code == 401
    assert other.delete(where).status_code == 404


def test_who_asks_too_often_is_told_to_wait(lead: Program) -> None:
    for _ in range(bulk_exports.AT_ONCE):
        kicked_off(lead)
    answer = lead.get(EXPORT, headers=ASYNC)
    assert answer.status_code == 429
    assert valid(answer.json())["issue"][0]["code"] == "throttled"


def test_a_copy_that_failed_says_why(lead: Program) -> None:
    where = kicked_off(lead)
    BulkExport.objects.update(state="failed", fault="the disk is full")
    answer = lead.get(where)
    assert answer.status_code == 500
    assert valid(answer.json())["issue"][0]["diagnostics"] == "the disk is full"


def test_a_file_that_is_not_there_is_not_found(lead: Program) -> None:
    where = kicked_off(lead)
    uuid = where.rsplit("/", 1)[1]
    assert lead.get(f"/fhir/r4/$export-file/{uuid}/Condition.ndjson").status_code == 404
    assert lead.get("/fhir/r4/$export-status/nothing").status_code == 404


def test_parameters_are_a_resource_with_one_value_each() -> None:
    assert exporting.parameters({}) == []
    with pytest.raises(Refused, match="Parameters"):
        exporting.parameters({"resourceType": "Bundle"})
    with pytest.raises(Refused, match="one value"):
        exporting.parameters({"resourceType": "Parameters", "parameter": [{"name": "_type"}]})


@pytest.mark.parametrize("listed", ["x", None, {"name": "_type"}, ["x"], [None], [[]]])
def test_parameters_of_another_shape_are_refused(lead: Program, listed: Any) -> None:
    body = json.dumps({"resourceType": "Parameters", "parameter": listed})
    answer = lead.post(EXPORT, body, content_type="application/fhir+json", headers=ASYNC)
    assert answer.status_code == 400
    assert valid(answer.json())["issue"][0]["expression"][0].startswith("Parameters.parameter")


def test_what_could_not_be_written_stands_apart_in_the_manifest(lead: Program) -> None:
    where = kicked_off(lead, f"{EXPORT}?_type=Condition")
    builders.injury()
    bad = builders.injury()
    type(bad).objects.filter(pk=bad.pk).update(missing={"bmi_kg_m2": "hidden"})
    bulk_exports.make_waiting(now=NOW)
    told = lead.get(where).json()
    (good,), (wrong,) = told["output"], told["error"]
    assert (good["type"], good["count"]) == ("Condition", 1)
    assert (wrong["type"], wrong["count"]) == ("OperationOutcome", 1)
    answer = lead.get(wrong["url"])
    valid(json.loads(content_of(answer)))
