"""The interface as a whole: how one signs in, what it costs, its description and its page."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache.backends.locmem import LocMemCache
from django.core.management import call_command
from rest_framework.throttling import UserRateThrottle
from time_machine import travel

from registry.api import description
from registry.models import (
    Person,
)
from registry.services import tokens
from tests import builders
from tests.api import Program, cost, signed_in
from tests.followed import followed, multiply

pytestmark = pytest.mark.django_db
URL = "/api/v1/patients/"


@pytest.fixture(autouse=True)
def nine_o_clock(time_machine: Any) -> None:
    """The interface reads the clock; rows that the builders save are not newer than it."""
    time_machine.move_to(builders.NOW)


def with_token(token: str) -> Program:
    program = Program()
    program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return program


def test_a_token_signs_in_until_it_ends(coordinator: Person) -> None:
    token = tokens.make_token(person=coordinator, days=1, now=builders.NOW)
    assert with_token(token).get(URL).status_code == 200
    assert with_token("x" * 64).get(URL).status_code == 401
    with travel(builders.NOW + timedelta(days=400)):
        assert with_token(token).get(URL).status_code == 401


def test_a_session_signs_in_but_writes_only_with_its_csrf_token(coordinator: Person) -> None:
    program = Program(enforce_csrf_checks=True)
    program.force_login(coordinator)
    patient = builders.patient()
    assert program.get(URL).status_code == 200
    answer = program.change(f"{URL}{patient.key}/", {"status": "active"})
    assert answer.status_code == 403
    assert "CSRF" in answer.json()["detail"]


def test_who_asks_too_often_is_told_when_to_come_back(
    coordinator: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(UserRateThrottle, "THROTTLE_RATES", {"user": "2/min"})
    monkeypatch.setattr(UserRateThrottle, "cache", LocMemCache("of-this-test", {}))
    program = signed_in(coordinator)
    codes = [program.get(URL).status_code for _ in range(2)]
    answer = program.get(URL)
    assert (codes, answer.status_code) == ([200, 200], 429)
    assert answer.json()["title"] == "Too many requests"
    assert int(answer["Retry-After"]) > 0


def test_an_unknown_address_is_refused_in_the_interfaces_own_way(coordinator: Person) -> None:
    answer = signed_in(coordinator).get("/api/v1/nothing/")
    assert answer.status_code == 404
    assert answer["Content-Type"] == "application/problem+json"
    assert Program().get("/api/v2/patients/").status_code == 401


def test_what_is_not_json_is_refused(coordinator: Person) -> None:
    patient = builders.patient()
    url = f"{URL}{patient.key}/"
    program = signed_in(coordinator)
    first = {"If-Match": '"1"'}
    form = "application/x-www-form-urlencoded"
    assert program.patch(url, "status=died", content_type=form, headers=first).status_code == 415
    answer = program.patch(url, "{", content_type="application/json", headers=first)
    assert answer.status_code == 400
    assert "JSON parse error" in answer.json()["detail"]


def test_the_description_is_valid_and_complete() -> None:
    call_command(
        "spectacular", "--validate", "--fail-on-warn", "--api-version", "v1", file="/dev/null"
    )


def test_every_operation_describes_its_refusals_and_what_it_wants() -> None:
    paths = description.description()["paths"]
    assert paths
    for path, methods in paths.items():
        for method, operation in methods.items():
            wanted = {"401", "403", "406", "429"} | ({"404"} if "{" in path else set())
            names = (
                {one["name"] for one in operation["parameters"]}
                if "parameters" in operation
                else set()
            )
            if method == "patch":
                assert "If-Match" in names, path
                wanted |= {"400", "412", "428"}
            assert wanted <= set(operation["responses"]), (path, method)
            assert operation.get("description"), (path, method)


def test_the_description_is_open_to_those_who_are_signed_in(coordinator: Person) -> None:
    answer = signed_in(coordinator).get("/api/v1/schema.json")
    assert answer.json()["openapi"].startswith("3.")
    assert Program().get("/api/v1/schema.json").status_code == 401


LISTS = [
    path
    for path, methods in description.description()["paths"].items()
    if "get" in methods and "{" not in path
]


def test_a_misspelt_part_of_an_address_is_refused_and_not_passed_over(everybody: Program) -> None:
    for path in LISTS:
        answer = everybody.get(path, {"colour": "red"})
        assert answer.status_code == 400, path
        assert "colour" in answer.json()["faults"]


def test_a_misspelt_field_is_refused_and_not_lost(everybody: Program) -> None:
    row = builders.procedure()
    url = f"/api/v1/procedures/{row.pk}/"
    answer = everybody.change(url, {"aproach": "skin_lines", "reason": "read the note"})
    assert answer.status_code == 400
    assert "no such field" in answer.json()["faults"]["aproach"][0]
    answer = everybody.act(f"{url}void/", {"reason": "x", "why": "y"})
    assert "why" in answer.json()["faults"]
    assert not row.voided_at


def test_no_list_is_open_without_signing_in_or_kept_by_a_cache(everybody: Program) -> None:
    for path in LISTS:
        assert Program().get(path).status_code == 401, path
        assert everybody.get(path)["Cache-Control"] == "no-store", path


def test_every_list_costs_the_same_at_ten_and_at_a_thousand_rows(
    everybody: Program, defaults: None, counted: Callable[[], Any]
) -> None:
    for number in range(10):
        followed(number)
    shared = {"/api/v1/rates/", "/api/v1/construct-types/"}
    few = {path: cost(everybody, path, counted) for path in LISTS if path not in shared}
    multiply(100)
    many = {path: cost(everybody, path, counted) for path in few}
    assert many == few
    for path in few:
        answer = everybody.get(path, {"page_size": 200}).json()
        assert answer["count"] >= 1000, path
        assert len(answer["results"]) == 200


@pytest.fixture
def everybody(db: None) -> Program:
    """Return a program of somebody with every role at one site."""
    return signed_in(builders.person("evan", north="coordinator+surgeon+film_reader+quality_lead"))
