"""Every answer is what the description says that it is."""

from typing import Any

import pytest
from jsonschema import Draft202012Validator

from registry.api import description
from tests import builders
from tests.api import Program, signed_in
from tests.followed import followed

pytestmark = pytest.mark.usefixtures("defaults")
PATHS = description.description()["paths"]
LISTS = [path for path, methods in PATHS.items() if "get" in methods and "{" not in path]
ROWS = [path for path in LISTS if path != "/api/v1/rates/"]


@pytest.fixture(autouse=True)
def nine_o_clock(time_machine: Any) -> None:
    """The interface reads the clock; rows that the builders save are not newer than it."""
    time_machine.move_to(builders.NOW)


@pytest.fixture
def everybody(db: None) -> Program:
    return signed_in(builders.person("evan", north="coordinator+surgeon+film_reader+quality_lead"))


def faults(shape: dict[str, Any], answer: Any) -> list[str]:
    """Return where an answer is not of a described shape."""
    components = {"schemas": _plain(description.description()["components"]["schemas"])}
    whole = {**_plain(shape), "components": components}
    formats = Draft202012Validator.FORMAT_CHECKER
    found = Draft202012Validator(whole, format_checker=formats).iter_errors(answer)
    return [f"{fault.json_path}: {fault.message}" for fault in found]


def _plain(described: Any) -> Any:
    """Write a description of OpenAPI 3.0 as a JSON schema: what may be null says so in its type.

    A field that is only sent is never answered, so it cannot be required of an answer.
    """
    if isinstance(described, list):
        return [_plain(one) for one in described]
    if not isinstance(described, dict):
        return described
    plain = {name: _plain(one) for name, one in described.items() if name != "nullable"}
    if "required" in plain and "properties" in plain:
        sent = {n for n, one in plain["properties"].items() if one.get("writeOnly")}
        plain["required"] = sorted(set(plain["required"]) - sent)
        plain["additionalProperties"] = False
    return {"anyOf": [plain, {"type": "null"}]} if described.get("nullable") else plain


def shape_of(path: str, method: str = "get", code: str = "200") -> dict[str, Any]:
    content = PATHS[path][method]["responses"][code]["content"]
    found: dict[str, Any] = next(iter(content.values()))["schema"]
    return found


@pytest.mark.parametrize("path", LISTS)
def test_a_list_is_what_is_described(everybody: Program, path: str) -> None:
    followed(0)
    answer = everybody.get(path).json()
    assert answer.get("results", answer)
    assert faults(shape_of(path), answer) == []


@pytest.mark.parametrize("path", ROWS)
def test_a_row_is_what_is_described(everybody: Program, path: str) -> None:
    followed(0)
    row = everybody.get(path).json()["results"][0]
    described = next(one for one in PATHS if one.startswith(f"{path}{{") and one.count("/") == 5)
    name = described.split("{")[1].split("}")[0]
    answer = everybody.get(f"{path}{row[name]}/").json()
    assert answer == row
    assert faults(shape_of(described), answer) == []


def test_an_identity_and_free_slots_are_what_is_described(everybody: Program) -> None:
    followed(0)
    builders.clinic()
    key = everybody.get("/api/v1/patients/").json()["results"][0]["key"]
    answer = everybody.get(f"/api/v1/patients/{key}/identity/").json()
    assert faults(shape_of("/api/v1/patients/{key}/identity/"), answer) == []
    review = everybody.get("/api/v1/reviews/").json()["results"][-1]["id"]
    answer = everybody.get(f"/api/v1/reviews/{review}/slots/").json()
    assert answer
    assert faults(shape_of("/api/v1/reviews/{id}/slots/"), answer) == []


def test_a_refusal_is_what_is_described(everybody: Program) -> None:
    path = "/api/v1/procedures/"
    answer = everybody.post(path, {})
    assert faults(shape_of(path, "post", "400"), answer.json()) == []


def test_the_check_itself_sees_what_is_wrong() -> None:
    shape = shape_of("/api/v1/scores/")
    assert faults(shape, {"count": "one", "results": []}) != []
    assert faults(shape, {"count": 1, "results": [{"id": 1}]}) != []


@pytest.mark.parametrize("path", LISTS)
def test_a_kind_that_is_not_to_be_had_is_refused_as_described(
    everybody: Program, path: str
) -> None:
    answer = everybody.get(path, headers={"Accept": "text/csv"})
    assert (answer.status_code, answer["Content-Type"]) == (406, "application/problem+json")
    assert not faults(shape_of(path, code="406"), answer.json())
