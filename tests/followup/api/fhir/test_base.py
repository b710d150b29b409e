from typing import Any

import pytest
from django.test import RequestFactory
from rest_framework.request import Request

from followup.api.fhir import base
from registry.models import Person
from tests import api
from tests.api import Program
from tests.fhir import valid

pytestmark = pytest.mark.django_db


@pytest.fixture
def selma(surgeon: Person) -> Program:
    return api.signed_in(surgeon)


def refused(answer: Any, status: int, code: str) -> str:
    """Hold a refusal to its status, type and form; return its words."""
    assert answer.status_code == status
    assert answer["Content-Type"] == "application/fhir+json; charset=utf-8"
    (issue,) = valid(answer.json())["issue"]
    assert issue["code"] == code
    return str(issue["diagnostics"])


def test_every_refusal_is_an_outcome(selma: Program, outsider: Person) -> None:
    refused(Program().get("/fhir/r4/Patient"), 401, "login")
    refused(selma.get("/fhir/r4/Patient/NOBODY"), 404, "not-found")
    refused(selma.get("/fhir/r4/nothing/at/all"), 404, "not-found")
    refused(selma.post("/fhir/r4/Patient", {}), 405, "not-supported")
    refused(selma.get("/fhir/r4/Patient", HTTP_ACCEPT="application/fhir+xml"), 406, "not-supported")
    assert "there are Patient" in refused(selma.get("/fhir/r4/Group"), 404, "not-supported")


def test_who_has_no_right_is_told_so(film_reader: Person, administrator: Person) -> None:
    refused(api.signed_in(film_reader).get("/fhir/r4/Patient"), 403, "forbidden")
    refused(api.signed_in(administrator).get("/fhir/r4/CodeSystem"), 403, "forbidden")


@pytest.mark.parametrize("accept", ["application/fhir+json", "application/json", "*/*"])
def test_json_of_either_name_is_given_and_says_what_it_is(selma: Program, accept: str) -> None:
    answer = selma.get("/fhir/r4/Patient", HTTP_ACCEPT=accept)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/fhir+json; charset=utf-8"
    assert answer["Cache-Control"] == "no-store"


def test_too_many_requests_are_told_in_the_same_way(selma: Program, monkeypatch: Any) -> None:
    from rest_framework.throttling import UserRateThrottle  # noqa: PLC0415 - what is tightened

    monkeypatch.setattr(UserRateThrottle, "THROTTLE_RATES", {"user": "0/min"})
    monkeypatch.setattr(UserRateThrottle, "allow_request", lambda *_: False)
    monkeypatch.setattr(UserRateThrottle, "wait", lambda _: 30)
    answer = selma.get("/fhir/r4/Patient")
    refused(answer, 429, "throttled")
    assert answer["Retry-After"] == "30"


def test_a_wish_is_read_whatever_else_is_wished() -> None:
    asked = RequestFactory().get("/", HTTP_PREFER="respond-async, handling=strict; wait=5")
    assert base.prefers(Request(asked), "handling=strict")
    assert base.prefers(Request(asked), "respond-async")
    assert not base.prefers(Request(asked), "handling=lenient")
    assert base.base_of(Request(asked)) == "http://testserver/fhir/r4"
