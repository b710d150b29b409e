import csv
import io

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests.analytics.records import held, operation
from tests.analytics.selectors.test_function import hurt, moved
from tests.analytics.views.test_outcomes import figure, meeting, text, today

__all__ = ["meeting", "today"]
pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def three(meeting: Client) -> Client:
    """Give two who were examined at a year, and one whom nobody saw."""
    one, two = held(), held()
    operation()
    for each, degrees, pain in ((one, 150, 1), (two, 160, 4)):
        moved(each, degrees)
        hurt(each, pain)
    return meeting


def test_the_page_says_median_middle_half_number_and_missing(three: Client) -> None:
    said = text(three.get(reverse("function")))
    assert "How do they move and feel?" in said
    assert "Flexion active, in degrees; more is better 2 1 of 3 155° (152.5° to 157.5°)" in said
    assert "2.5 (1.8 to 3.2)" in said
    assert "1 : 1 not seen" in said


def test_an_acceptable_state_has_its_source_and_population_or_is_not_invented(
    three: Client,
) -> None:
    pain = text(three.get(reverse("function")))
    assert "Acceptable: 1.5 or less; Chamberlain 2017" in pain
    assert "in shoulder arthroplasty, not fractures or AC joints" in pain
    assert "1/2, 50.0%" in pain
    flexion = text(three.get(reverse("function") + "?measure=flexion"))
    assert "No published acceptable state of it is at hand" in flexion


def test_the_figure_and_its_words_follow_the_measure(three: Client) -> None:
    answer = three.get(reverse("function") + "?measure=internal_rotation")
    assert figure(answer, "over-time")["data"][0]["name"] == "thigh"
    assert "12 months: T12 (T12 to T12), 2 of 3" in text(answer)


def test_a_number_opens_its_cases(three: Client) -> None:
    answer = three.get(reverse("function-cases") + "?measure=flexion&which=12m:has")
    assert "2 cases: flexion at 12 months, with a value, all groups" in text(answer)
    assert three.get(reverse("function-cases")).status_code == 200
    for query in ("?which=12m:shoe", "?measure=shoe", "?which=9y:has"):
        assert three.get(reverse("function-cases") + query).status_code == 404


def test_a_measure_that_is_none_is_said_and_the_default_shown(three: Client) -> None:
    answer = three.get(reverse("function") + "?measure=shoe")
    assert answer.status_code == 200
    assert "'shoe' is not one of pain_nrs" in text(answer)
    assert three.get(reverse("function-csv") + "?measure=shoe").status_code == 400


def test_the_file_has_the_pages_numbers(three: Client) -> None:
    answer = three.get(reverse("function-csv") + "?measure=flexion")
    assert answer["Content-Disposition"] == 'attachment; filename="function-flexion.csv"'
    lines = list(csv.reader(io.StringIO(answer.content.decode())))
    head, *rows = [line for line in lines if not line[0].startswith("# ")]
    found = [dict(zip(head, row, strict=True)) for row in rows]
    twelve = [row for row in found if (row["group"], row["horizon"]) == ("all", "12m")]
    assert [(row["number"], row["median"]) for row in twelve] == [("2", "155.0")]


def test_an_empty_service_is_told_what_will_stand_here(meeting: Client) -> None:
    assert "No index procedure in this cohort" in text(meeting.get(reverse("function")))


def test_nobody_measured_yet_is_said(meeting: Client) -> None:
    operation()
    assert "Nobody has two values to compare yet." in text(meeting.get(reverse("function")))


def test_who_may_not_see_outcomes_is_refused(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    for name in ("function", "function-csv", "function-cases"):
        assert client.get(reverse(name)).status_code == 403
