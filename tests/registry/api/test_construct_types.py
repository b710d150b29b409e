"""Construct types over the interface: read by everybody who uses it, changed in Setup."""

import pytest

from registry.models import Person
from tests.api import Program, signed_in

pytestmark = pytest.mark.usefixtures("defaults")
URL = "/api/v1/construct-types/"


@pytest.fixture
def api(quality_lead: Person) -> Program:
    return signed_in(quality_lead)


def test_types_are_listed_and_shown_by_code(api: Program) -> None:
    listed = api.get(URL, {"family": "hook_plate"}).json()["results"]
    code = listed[0]["code"]
    answer = api.get(f"{URL}{code}/")
    assert (answer["ETag"], answer.json()["planned_removal"]) == ('"1"', True)
    assert api.get(f"{URL}ZZ/").status_code == 404


def test_types_are_not_changed_here(api: Program) -> None:
    assert api.post(URL, {"code": "ZZ"}).status_code == 405
    assert api.change(f"{URL}HP/", {"name": "x"}).status_code == 405


def test_who_holds_no_role_is_refused(administrator: Person) -> None:
    assert signed_in(administrator).get(URL).status_code == 403
