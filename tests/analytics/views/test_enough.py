import csv
import io
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests.analytics.records import held, lost, operation
from tests.analytics.views.test_outcomes import figure, meeting, text, today

__all__ = ["meeting", "today"]
pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def two(meeting: Client) -> Client:
    """Give three held and one lost of one construct, two held of another."""
    for _ in range(3):
        held(construct="HP")
    lost(construct="HP")
    for _ in range(2):
        held(construct="LP")
    return meeting


def test_the_page_says_how_long_it_would_take_at_todays_volume(two: Client) -> None:
    said = text(two.get(reverse("enough")))
    assert "How much more would we need?" in said
    assert "HP (25.0%) from LP (0.0%)" in said
    assert "Within 5 years a rate of HP of" in said
    assert "repeats what its interval says already" in said
    assert "Newcombe's interval" in said
    assert "now 4 2" in said
    assert "1 more year 7 3" in said


def test_figures_carry_their_words(two: Client) -> None:
    answer = two.get(reverse("enough"))
    drawn = figure(answer, "enough-widths")["data"][0]
    assert drawn["x"][0] == 0
    said = text(answer)
    assert "Expected 95% interval of the difference, HP less LP. With the numbers of today" in said
    assert "The difference would be told by" in said


def test_what_is_typed_takes_the_place_of_what_was_seen(two: Client) -> None:
    typed = "?one=LP&other=HP&rate_one=5&rate_other=30&year_one=20&year_other=25,5"
    answer = two.get(reverse("enough") + typed)
    said = text(answer)
    assert "To tell LP (5.0%) from HP (30.0%)" in said
    assert "5.0%, typed" in said
    assert "25.5, typed" in said
    # The chooser of the cohort sends along what was typed, and the other form the cohort.
    html = answer.content.decode()
    assert '<input type="hidden" name="rate_other" value="30">' in html
    assert '<input type="hidden" name="horizon" value="12m">' in html


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("rate_one=much", "The rate of the first group in per cent is a number from 0 to 100"),
        ("rate_other=120", "'120' was typed"),
        ("year_one=-3", "Judged cases a year of the first group is a number from 0 to 10000"),
        ("year_other=nan", "'nan' was typed"),
        ("one=XX", "'XX' is not one of HP, LP"),
        ("one=LP&other=LP", "'LP' cannot be compared with itself"),
    ],
)
def test_what_cannot_be_read_is_said(two: Client, query: str, words: str) -> None:
    answer = two.get(reverse("enough") + f"?{query}")
    assert answer.status_code == 200
    assert words in text(answer)
    refused = two.get(reverse("enough-csv") + f"?{query}")
    assert refused.status_code == 400
    assert words in refused.content.decode()


def test_one_group_alone_is_told_what_is_wanting(meeting: Client) -> None:
    held()
    assert "a comparison takes two groups" in text(meeting.get(reverse("enough")))


def test_operations_that_nobody_judged_ask_for_a_rate(meeting: Client) -> None:
    operation(construct="LP")
    operation(construct="HP")
    said = text(meeting.get(reverse("enough")))
    assert "is judged yet: type the rate that you expect" in said


def test_an_empty_service_is_told_what_will_stand_here(meeting: Client) -> None:
    assert "No index procedure in this cohort" in text(meeting.get(reverse("enough")))


def test_the_file_has_the_pages_numbers(two: Client) -> None:
    answer = two.get(reverse("enough-csv") + "?rate_one=10")
    lines: list[Any] = list(csv.reader(io.StringIO(answer.content.decode())))
    head, *rows = [line for line in lines if not line[0].startswith("# ")]
    assert head[:5] == ["years", "rate_HP", "rate_LP", "judged_HP", "judged_LP"]
    assert rows[0][:5] == ["0", "0.1", "0.0", "4", "2"]


def test_who_may_not_see_outcomes_is_refused(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    for name in ("enough", "enough-csv"):
        assert client.get(reverse(name)).status_code == 403
