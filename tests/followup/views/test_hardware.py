"""Whose hardware needs a decision: the list, and recording one."""

import csv
import io
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import HardwareDecision
from followup.services import films, hardware, scores
from registry.models import AuditEntry, Person, Procedure
from tests import builders
from tests.builders import NOW, TODAY
from tests.looked import named_on

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
        "Symptomatic hardware; 24 weeks since surgery; no film judged for union yet.",
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


def test_what_waits_says_since_when_and_that_it_waits(here: Client) -> None:
    row = question()
    decide(here, row, state="discussed", reason="wants to think")
    assert "waiting since" not in page(here)
    HardwareDecision.objects.update(waiting_since=date(2026, 10, 15))
    assert "discussed</span>, waiting since 15 Oct 2026</td>" in page(here)


def test_whom_the_list_and_a_question_named_is_written_down(here: Client) -> None:
    row = question()
    patient = row.procedure.injury.patient
    page(here)
    assert named_on("hardware") == [[patient.key]]
    here.get(where(row))
    assert AuditEntry.objects.get(reason="hardware-decide").row_id == str(patient.pk)


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
        ({"state": "planned", "wish_on": ""}, "wish_on", "Give the day on which"),
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
    answer = decide(here, row, state="planned", wish_on="2027-01-15", reason="wants it out")
    shown = answer.content.decode()
    assert answer.status_code == 409
    assert "<td>Discussed</td><td>Removal planned</td>" in shown
    assert "<td>wants to think</td><td>wants it out</td>" in shown
    assert 'name="version" value="2"' in shown
    assert state_of(row) == "discussed"
    row.refresh_from_db()
    assert (
        decide(here, row, state="planned", wish_on="2027-01-15", reason="wants it out").status_code
        == 302
    )
    assert state_of(row) == "planned"


def test_a_question_that_is_answered_is_not_there_any_more(here: Client) -> None:
    row = question()
    decide(here, row, state="declined", reason="the patient is content")
    assert "Quill, Ada" not in page(here, resting="yes")


def test_an_answered_question_can_be_looked_at_and_a_refusal_asked_again(here: Client) -> None:
    row = question()
    decide(here, row, state="declined", reason="the patient is content")
    shown = here.get(where(row)).content.decode()
    assert "the patient is content" in shown
    assert '<option value="raised">' in shown
    assert '<option value="planned">' not in shown
    row.refresh_from_db()
    assert decide(here, row, state="raised", reason="hurts anew").status_code == 302
    assert state_of(row) == "raised"


def test_the_page_shows_every_step_with_who_and_why(here: Client) -> None:
    row = question()
    decide(here, row, state="discussed", reason="wants to think")
    row.refresh_from_db()
    decide(here, row, state="planned", wish_on="2027-01-15", reason="after the exams")
    shown = here.get(where(row)).content.decode()
    steps = shown.split('id="so-far"')[1].split("<h2>Pain</h2>")[0]
    for words in (
        "hurts at night (Recorder)",
        "wants to think (Selma)",
        "Removal planned for 15 Jan 2027",
        "after the exams (Selma)",
    ):
        assert words in steps


def test_the_page_shows_the_pain_with_its_days_and_whether_hardware_was_in(here: Client) -> None:
    row = question()
    operation = row.procedure
    at = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    for on, total in ((date(2026, 6, 19), 6.0), (date(2026, 9, 4), 3.0)):
        scores.record_score(
            injury=operation.injury, instrument="pain_nrs", taken_on=on, total=total, **at
        )
    assert "pain 6 on 19 Jun 2026, then 3 on 04 Sep 2026" in page(here)
    shown = here.get(where(row)).content.decode()
    assert '<svg class="pain-course"' in shown
    assert shown.count("<circle") == 2
    assert '<td class="number">3</td><td>in</td>' in shown


def test_the_film_that_judged_union_is_linked(here: Client) -> None:
    row = question()
    operation = row.procedure
    at = {"by": operation.recorded_by, "now": NOW, "today": TODAY}
    film = films.record_film(
        injury=operation.injury, values={"taken_on": date(2026, 9, 4), "view": "zanca"}, **at
    )
    films.record_reading(film=film, values={"union": "united"}, reader=operation.recorded_by, **at)
    shown = here.get(where(row)).content.decode()
    assert "union confirmed on the film of 04 Sep 2026" in shown
    assert reverse("films-read", args=[film.pk]) in shown


def test_a_coordinator_sees_the_list_and_leaves_the_decision_to_the_surgeon(
    client: Client, coordinator: Person
) -> None:
    row = question()
    client.force_login(coordinator)
    shown = page(client)
    assert "for the surgeon" in shown
    assert 'aria-label="Decide' not in shown
    looked = client.get(where(row)).content.decode()
    assert "A surgeon of this site decides." in looked
    assert "Record the decision" not in looked
    assert decide(client, row, state="discussed").status_code == 403


def test_who_decides_at_one_site_is_not_offered_it_at_the_other(client: Client) -> None:
    mine, other = question(site="north"), question(site="south")
    client.force_login(builders.person("beth", north="surgeon", south="coordinator"))
    shown = page(client)
    assert f'href="{where(mine)}" aria-label="Decide' in shown
    assert f'href="{where(other)}" aria-label="Look' in shown
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


def times(client: Client) -> str:
    return str(client.get(reverse("hardware-times")).content.decode())


def test_the_times_count_what_is_open_and_say_small_numbers_plainly(here: Client) -> None:
    assert "No question was raised yet" in times(here)
    question()
    decide(here, question(), state="planned", wish_on="2027-01-15", reason="wants it out")
    shown = times(here)
    assert "All constructs" in shown
    assert "fewer than 5: numbers only" in shown
    assert "median 0, longest 0" in shown
    for _ in range(3):
        question()
    shown = times(here)
    # One of five was decided on its first day: 20%, and half is still to come.
    assert '<td class="number">20%</td>' in shown
    assert '<td class="number">not yet</td>' in shown


def test_the_times_are_given_as_a_file_that_says_the_same(here: Client) -> None:
    for _ in range(4):
        question()
    decide(here, question(), state="declined", reason="content")
    answer = here.get(reverse("hardware-times-csv"))
    assert answer["Content-Type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [(row["measure"], row["construct"]) for row in rows[:2]] == [
        ("from raised to decided", "All constructs"),
        ("from raised to removed", "All constructs"),
    ]
    assert (rows[0]["answered"], rows[0]["open"], rows[0]["share_by_28_days"]) == (
        "1",
        "4",
        "0.200",
    )
    assert (rows[1]["answered"], rows[1]["declined"], rows[1]["days_half"]) == ("0", "1", "")


def test_the_file_gives_no_shares_of_few(here: Client) -> None:
    question()
    text = here.get(reverse("hardware-times-csv")).content.decode("utf-8-sig")
    row = next(csv.DictReader(io.StringIO(text)))
    assert (row["raised"], row["share_by_28_days"]) == ("1", "")
    assert row["note"] == "fewer than 5 questions: no shares and no medians"
