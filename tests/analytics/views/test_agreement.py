"""Do the readers agree? The page, its file and its films, by right."""

import csv
import io

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests.analytics.records import operation
from tests.analytics.selectors.test_agreement import FIRST, THIRD, read_twice
from tests.analytics.views.test_outcomes import figure, meeting, text, today
from tests.followup.twice import film, read, readers

__all__ = ["meeting", "today"]
pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


def test_the_page_says_coefficients_limits_and_the_detectable_change(meeting: Client) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    answer = meeting.get(reverse("agreement"))
    said = text(answer)
    assert "Do the readers agree?" in said
    assert "of 6 films read twice, 19 in 20 differ by between -5.7 and -1.0 mm" in said
    # Worked by hand: see the test of the selector.
    assert "CC distance, injured side 6 0.24 (" in said
    assert "0.72 (" in said
    assert "2.48 mm" in said
    assert "Assumed until now: 2.0 mm" in said
    assert "Reader 1 and Reader 2" in said
    drawn = figure(answer, "apart")
    assert len(drawn["data"][0]["x"]) == len(set(zip(FIRST, THIRD, strict=True)))


def test_a_surgeon_who_reads_sees_themself_and_no_other(client: Client, surgeon: Person) -> None:
    one, *_ = readers()
    read_twice(one, surgeon)
    client.force_login(surgeon)
    said = text(client.get(reverse("agreement")))
    assert "you less the other reader" in said
    assert "Reader 1" not in said


def test_a_film_reader_sees_the_page_and_not_the_films(client: Client) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    client.force_login(one)
    said = text(client.get(reverse("agreement")))
    assert "you less the other reader" in said
    assert "Reader 2" not in said
    assert "farthest apart" not in said
    assert client.get(reverse("agreement-films")).status_code == 403


def test_without_a_film_read_twice_the_page_says_what_comes_here(meeting: Client) -> None:
    read(film(operation().injury), readers(1)[0])
    assert "No film was read twice yet" in text(meeting.get(reverse("agreement")))


def test_few_films_are_said_to_be_few(meeting: Client) -> None:
    one, two, _ = readers()
    shown = film(operation().injury)
    read(shown, one)
    read(shown, two, union="united")
    said = text(meeting.get(reverse("agreement")))
    assert "1 film read twice. Below 5 nothing is worked out." in said
    assert "fewer than 5 films: nothing is worked out" in said


def test_judgements_have_kappa_and_no_figure(meeting: Client) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    answer = meeting.get(reverse("agreement") + "?measurement=union")
    assert answer.status_code == 200
    assert 'id="apart"' not in answer.content.decode()


def test_an_address_that_is_none_is_said_and_the_default_shown(meeting: Client) -> None:
    read_twice(*readers(2))
    said = text(meeting.get(reverse("agreement") + "?measurement=shoe"))
    assert "'shoe' is not one of ccd_injured_mm" in said
    assert "Do the readers agree?" in said
    assert meeting.get(reverse("agreement-films") + "?measurement=shoe").status_code == 404
    assert meeting.get(reverse("agreement-csv") + "?site=nowhere").status_code == 400


def test_the_films_that_lie_farthest_apart_come_first(meeting: Client) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    said = text(meeting.get(reverse("agreement-films")))
    assert "6 films read twice, those that lie farthest apart first" in said
    assert said.index("7.0 2.0 -5.0 mm") < said.index("9.0 5.0 -4.0 mm")
    assert meeting.get(reverse("agreement-films") + "?measurement=union").status_code == 404


def lines(answer: object) -> list[dict[str, str]]:
    body = answer.content.decode()  # type: ignore[attr-defined]
    plain = [line for line in body.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("\n".join(plain))))


def test_the_file_has_the_pages_numbers_and_none_of_readers_for_outside(meeting: Client) -> None:
    one, two, _ = readers()
    read_twice(one, two)
    inside = lines(meeting.get(reverse("agreement-csv")))
    length = next(row for row in inside if row["measurement"] == "ccd_injured_mm")
    assert (length["group"], length["pairs"]) == ("all", "6")
    assert float(length["icc_3_1"]) == pytest.approx(0.725)
    assert {row["of"] for row in inside} == {"all", "site", "reader", "pair of readers"}
    outside = meeting.get(reverse("agreement-csv") + "?audience=outside")
    assert "Reader 1" not in outside.content.decode()
    rows = [row for row in lines(outside) if row["measurement"] == "ccd_injured_mm"]
    assert [(row["group"], row["pairs"]) for row in rows] == [("all", "*"), ("north", "*")]
