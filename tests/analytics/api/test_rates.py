"""Rates over the interface: the numbers of the page and of the command, from the same code."""

import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from analytics.models import EndpointChoice
from registry.models import Person
from tests import builders
from tests.analytics.records import complication, held, lost, operation
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.usefixtures("defaults")
URL = "/api/v1/rates/"


@pytest.fixture
def api(quality_lead: Person) -> Program:
    return signed_in(quality_lead)


def some() -> None:
    for _ in range(3):
        held(construct="HP")
    lost(construct="LP")
    complication(operation(construct="LP"), 20)


def by_command(*options: str) -> dict[str, Any]:
    out = io.StringIO()
    call_command("rates", *options, "--format", "json", "--cutoff", "2026-11-25", stdout=out)
    said: dict[str, Any] = json.loads(out.getvalue())
    return said


def test_the_numbers_are_those_of_the_command_and_say_what_made_them(api: Program) -> None:
    some()
    answer = api.get(URL)
    assert answer.status_code == 200
    body = answer.json()
    said = by_command()
    assert body["rows"] == said["rows"]
    for name in ("cohort", "definition", "horizon", "cutoff", "snapshot", "caution"):
        assert body["made_from"][name] == said["made_from"][name]
    total = body["rows"][-1]
    assert (total["operated"], total["evaluable"], total["events"]) == (5, 4, 1)
    # Wilson's interval of 1 in 4 (Newcombe 1998, method 3).
    assert (round(total["rate_low"], 3), round(total["rate_high"], 3)) == (0.046, 0.699)
    assert body["sentence"].startswith("By 12 months, 1 of 4 judged (25.0%;")


@pytest.mark.parametrize(
    "asked",
    [
        {"by": "site", "horizon": "6m"},
        {"definition": "ratio-25"},
        {"endpoint": "union"},
        {"endpoint": "any_complication", "horizon": "3m"},
        {"from": "2025-01-01", "to": "2025-12-31", "site": "north"},
    ],
)
def test_every_question_gets_the_same_numbers_as_from_the_command(
    api: Program, asked: dict[str, str]
) -> None:
    some()
    options = [part for name, value in asked.items() for part in (f"--{name}", value)]
    assert api.get(URL, asked).json()["rows"] == by_command(*options)["rows"]


def test_the_numbers_are_those_of_the_page(
    api: Program, client: Client, quality_lead: Person
) -> None:
    some()
    client.force_login(quality_lead)
    page = client.get(reverse("outcomes"))
    shown = {row["group"]: [one["number"] for one in row["counts"]] for row in page.context["rows"]}
    names = ("operated", "eligible", "evaluable", "events", "competing", "not_evaluable")
    rows = api.get(URL).json()["rows"]
    assert {row["group"]: [row[name] for name in names] for row in rows} == shown


def test_another_site_is_in_no_number(api: Program) -> None:
    some()
    for _ in range(4):
        lost("south")
    assert api.get(URL).json()["rows"][-1]["operated"] == 5
    answer = api.get(URL, {"site": "south"})
    assert (answer.status_code, set(answer.json()["faults"])) == (400, {"site"})
    # Whether there is such a site is not said.
    assert answer.json()["faults"]["site"] == ["'south' is none of your sites (north)"]


def test_sites_that_chose_no_definition_are_refused_with_those_that_ship(api: Program) -> None:
    some()
    EndpointChoice.objects.all().delete()
    answer = api.get(URL)
    assert (answer.status_code, set(answer.json()["faults"])) == (400, {"definition"})
    assert "Name one of rise-3mm, " in answer.json()["faults"]["definition"][0]
    assert api.get(URL, {"definition": "rise-3mm"}).status_code == 200


def test_what_cannot_be_read_is_named_instead_of_guessed(api: Program) -> None:
    answer = api.get(URL, {"endpoint": "luck", "horizon": "9y", "from": "May"})
    assert answer.status_code == 400
    assert set(answer.json()["faults"]) == {"endpoint", "horizon", "from"}


def test_who_may_not_see_outcomes_is_refused(coordinator: Person) -> None:
    assert signed_in(coordinator).get(URL).status_code == 403
    assert Program().get(URL).status_code == 401


def test_no_name_is_in_an_answer_or_was_read_for_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    held()
    with counted() as queries:
        answer = api.get(URL)
    assert answer.status_code == 200
    assert not [one for one in queries if "registry_identi" in one["sql"]]


def test_it_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    held()
    api.get(URL)
    few = cost(api, URL, counted)
    for _ in range(8):
        held()
    builders.procedure()
    api.get(URL)
    assert cost(api, URL, counted) == few
