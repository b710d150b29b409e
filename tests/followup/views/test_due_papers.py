"""The papers of the day, and the list as a table."""

import csv
import io
from datetime import timedelta
from typing import Any

import openpyxl
import pytest
from django.test import Client
from django.urls import reverse

from followup.services import contacts
from registry.models import Person
from tests import builders
from tests.builders import NOW, booked
from tests.followup.listed import due
from tests.looked import named_on

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def page(client: Client, name: str, **query: str) -> str:
    return " ".join(client.get(reverse(name), query).content.decode().split())


def test_the_clinic_list_of_a_day_names_site_day_and_when_it_was_printed(here: Client) -> None:
    booked(due(), where=builders.clinic(builders.site(), name="Shoulder"))
    shown = page(here, "clinic-list", day="2026-12-01")
    for words in (
        "Shoulder, North Hospital",
        "Tuesday 1 December 2026; 1 patient",
        "Printed 25 Nov 2026",
        "Quill, Ada",
        "film first",
    ):
        assert words in shown
    assert "Nobody is booked on this day" in page(here, "clinic-list", day="soon")


def test_the_call_sheet_ends_the_tries_so_far_with_a_full_stop(
    here: Client, coordinator: Person
) -> None:
    review = due(phone="0555 010 7")
    for outcome in ("no_answer", "message_left"):
        contacts.record_attempt(
            review=review,
            means="phone",
            outcome=outcome,
            note="rings out",
            by=coordinator,
            now=NOW - timedelta(days=20),
        )
    shown = page(here, "call-sheet", show="due")
    assert "no answer (rings out); " in shown
    assert "message left (rings out).</p>" in shown


def test_the_call_sheet_says_whom_to_call_how_and_why(here: Client) -> None:
    due(phone="0555 010 7", other_contact_name="Imre", other_contact_phone="0555 010 8")
    due("Late")
    shown = page(here, "call-sheet", show="unbooked")
    for words in (
        "Not booked; 2 to be tried today",
        "<strong>0555 010 7</strong>; or Imre 0555 010 8. Prefers phone call; language en.",
        "In window, due in 10 days, not booked yet.",
        "no phone recorded",
    ):
        assert words in shown
    assert "Nobody is to be called today" in page(here, "call-sheet", show="missed")


def test_the_table_holds_the_view_without_names(here: Client) -> None:
    review = due("=Quill")
    answer: Any = here.get(reverse("due-csv"), {"show": "all"})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    (row,) = list(csv.DictReader(io.StringIO(text)))
    assert row["patient"] == review.procedure.injury.patient.key
    assert row["why_here"] == "In window, due in 10 days, not booked yet"
    assert "Quill" not in text
    assert "due-2026-11-25.csv" in answer["Content-Disposition"]


def test_the_workbook_holds_the_same(here: Client) -> None:
    due()
    answer = here.get(reverse("due-xlsx"))
    book = openpyxl.load_workbook(io.BytesIO(answer.content))
    rows = list(book["Due"].iter_rows(values_only=True))
    assert rows[0][:3] == ("patient", "site", "review")
    assert rows[1][1:4] == ("north", "6 months", "left")
    assert len(rows) == 2


def test_whom_paper_named_is_written_down(here: Client) -> None:
    review = due(phone="0555 010 7")
    key = review.procedure.injury.patient.key
    page(here, "call-sheet")
    assert named_on("call-sheet") == [[key]]
    booked(review, where=builders.clinic(builders.site(), name="Shoulder"))
    page(here, "clinic-list", day="2026-12-01")
    assert named_on("clinic-list") == [[key]]
