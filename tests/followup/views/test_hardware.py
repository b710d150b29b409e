"""Whose hardware needs a decision: the list, and recording one."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import HardwareDecision
from followup.services import hardware
from registry.models import Person, Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def question(name: str = "Quill", site: str = "north", construct: str = "LP") -> HardwareDecision:
    """Return an open question about an operation of 5 June 2026."""
    whose = builders.patient(builders.site(site), family_name=name)
    operation: Procedure = builders.procedure(
        of=builders.injury(of=whose), construct={"construct_type": construct}
    )
    raised = hardware.raise_question(
        procedure=operation,
        because="planned_removal" if construct == "HP" else "symptoms",
        by=operation.recorded_by,
        now=NOW,
        on=TODAY,
        reason="hurts at night",
    )
    assert raised is not None
    return raised


def page(client: Client, **query: str) -> str:
    return str(client.get(reverse("hardware"), query).content.decode())


def where(row: HardwareDecision) -> str:
    return reverse("hardware-decide", args=[row.pk])


def decide(client: Client, row: HardwareDecision, **typed: str) -> Any:
    return client.post(where(row), {"version": row.version, **typed})


def state_of(row: HardwareDecision) -> str:
    return str(HardwareDecision.objects.get(pk=row.pk).state)


def test_a_row_says_whose_hardware_why_and_where_the_question_stands(here: Client) -> None:
    row = question()
    shown = page(here)
    assert reverse("patient", args=[row.procedure.injury.patient.key]) in shown
    for words in (
        "Quill, Ada",
        "Symptomatic hardware; 24 weeks since surgery; no film says whether it united.",
        "hurts at night",
        "1 open question",
    ):
        assert words in shown
    assert where(row) in shown


def test_a_plate_past_its_time_stands_first_and_insists(here: Client) -> None:
    question("Calm")
    question("Urgent", construct="HP")
    shown = page(here)
    assert shown.index("Urgent, Ada") < shown.index("Calm, Ada")
    assert shown.count('data-label="Why" class="act-now"') == 1
    assert "8 weeks past its time" in shown


def test_a_list_without_questions_teaches_how_they_come(here: Client) -> None:
    shown = page(here)
    assert "No question is open" in shown
    assert "never makes it" in shown


def test_what_rests_is_shown_on_request(here: Client) -> None:
    decide(here, question(), state="deferred", deferred_until="2026-12-24", reason="exams")
    assert "Quill, Ada" not in page(here)
    shown = page(here, resting="yes")
    assert "Quill, Ada" in shown
    assert "exams" in shown


def test_a_decision_is_recorded_and_the_list_says_so(here: Client, surgeon: Person) -> None:
    row = question()
    answer = decide(here, row, state="planned", wish_on="2027-01-15", reason="after the exams")
    assert answer.url == reverse("hardware")
    row.refresh_from_db()
    assert (row.state, row.wish_on, row.reason) == (
        "planned",
        date(2027, 1, 15),
        "after the exams",
    )
    assert (row.decided_on, row.changed_by) == (TODAY, surgeon)
    shown = page(here)
    assert "The decision is recorded." in shown
    assert "removal planned" in shown


@pytest.mark.parametrize("state", ["deferred", "declined"])
def test_what_is_put_off_or_refused_needs_its_reason(here: Client, state: str) -> None:
    row = question()
    refused = decide(here, row, state=state, deferred_until="2026-12-24").content.decode()
    assert 'id="id_reason_error">Say why' in refused
    assert 'value="2026-12-24"' in refused
    assert f'<option value="{state}" selected>' in refused
    assert state_of(row) == "raised"


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"state": "deferred", "deferred_until": ""}, "deferred_until", "Give a day to come"),
        (
            {"state": "deferred", "deferred_until": "2026-11-25"},
            "deferred_until",
            "Give a day to come",
        ),
        ({"state": "planned", "wish_on": "soon"}, "wish_on", "Write a possible date"),
        ({"state": "done"}, "state", "Select a valid choice"),
        ({"state": ""}, "state", "This field is required"),
    ],
)
def test_a_refusal_stands_by_its_field_and_nothing_typed_is_lost(
    here: Client, typed: dict[str, str], field: str, says: str
) -> None:
    row = question()
    refused = decide(here, row, reason="not united yet", **typed).content.decode()
    assert says in refused.split(f'id="id_{field}_error">')[1].split("</p>")[0]
    assert 'value="not united yet"' in refused
    assert state_of(row) == "raised"


def test_only_what_may_follow_is_offered_and_never_that_it_is_out(here: Client) -> None:
    row = question()
    offered = here.get(where(row)).content.decode()
    assert '<option value="raised">' not in offered
    assert '<option value="done">' not in offered
    assert reverse("enrol-procedure", args=[row.procedure.injury_id]) in offered


def test_of_two_who_decide_the_second_sees_both_and_can_save_again(here: Client) -> None:
    row = question()
    decide(here, row, state="discussed", reason="wants to think")
    answer = decide(here, row, state="planned", reason="wants it out")
    shown = answer.content.decode()
    assert answer.status_code == 409
    assert "<td>Discussed</td><td>Removal planned</td>" in shown
    assert "<td>wants to think</td><td>wants it out</td>" in shown
    assert 'name="version" value="2"' in shown
    assert state_of(row) == "discussed"
    row.refresh_from_db()
    assert decide(here, row, state="planned", reason="wants it out").status_code == 302
    assert state_of(row) == "planned"


def test_a_question_that_is_answered_is_not_there_any_more(here: Client) -> None:
    row = question()
    decide(here, row, state="declined", reason="the patient is content")
    assert "Quill, Ada" not in page(here, resting="yes")
    assert here.get(where(row)).status_code == 404


def test_a_coordinator_sees_the_list_and_leaves_the_decision_to_the_surgeon(
    client: Client, coordinator: Person
) -> None:
    row = question()
    client.force_login(coordinator)
    shown = page(client)
    assert "for the surgeon" in shown
    assert where(row) not in shown
    assert client.get(where(row)).status_code == 403
    assert decide(client, row, state="discussed").status_code == 403


def test_who_decides_at_one_site_is_not_offered_it_at_the_other(client: Client) -> None:
    mine, other = question(site="north"), question(site="south")
    client.force_login(builders.person("beth", north="surgeon", south="coordinator"))
    shown = page(client)
    assert where(mine) in shown
    assert where(other) not in shown
    assert decide(client, other, state="discussed").status_code == 403


def test_another_sites_question_is_not_there(client: Client, outsider: Person) -> None:
    row = question()
    client.force_login(outsider)
    assert "Quill" not in page(client)
    assert decide(client, row, state="discussed").status_code == 404


def test_who_has_no_part_in_it_is_refused(client: Client, film_reader: Person) -> None:
    client.force_login(film_reader)
    assert client.get(reverse("hardware")).status_code == 403


def test_pages_of_fifty_keep_the_choice(here: Client) -> None:
    for _ in range(51):
        question()
    assert page(here).count('aria-label="Decide: Quill, Ada"') == 50
    assert page(here, page="2").count('aria-label="Decide: Quill, Ada"') == 1
    assert "resting=yes&amp;page=2" in page(here, resting="yes")


def test_the_queries_do_not_grow_with_the_list(here: Client, counted: Callable[[], Any]) -> None:
    numbers = []
    for more in (2, 10):
        for _ in range(more):
            question()
        with counted() as queries:
            page(here)
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]


def test_the_pages_take_no_other_method(here: Client) -> None:
    assert here.post(reverse("hardware")).status_code == 405
    assert here.put(where(question())).status_code == 405
