"""What goes on paper: the clinic list and the call sheet."""

from datetime import date, time

import pytest

from followup.models import Film
from followup.selectors import papers
from followup.selectors.due import DueFilter
from followup.services import contacts
from registry.models import Person
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.listed import TUESDAY, due

pytestmark = pytest.mark.usefixtures("defaults")


def names(user: Person, today: date = TODAY) -> list[str]:
    return [row.name for row in papers.call_sheet(user, today, DueFilter()).rows]


def test_a_clinic_list_has_a_line_for_each_visit_in_order_of_time(coordinator: Person) -> None:
    late, early = due("Late"), due("Early")
    where = builders.clinic(late.site, name="Shoulder")
    booked(late, TUESDAY, time(9, 30), where)
    booked(early, TUESDAY, time(9), where)
    booked(due("Elsewhere"), TUESDAY)
    (sheet,) = papers.clinic_sheets(coordinator, TUESDAY, where.pk)
    assert sheet.clinic == where
    assert [(line.at, line.name) for line in sheet.lines] == [
        (time(9), "Early, Ada"),
        (time(9, 30), "Late, Ada"),
    ]
    line = sheet.lines[0]
    assert (line.side, line.construct, line.step) == ("left", "Locking plate alone", "6 months")
    assert (line.film_first, line.born) == (True, "17 May 1980")
    assert line.collect.startswith("Zanca film")
    assert len(papers.clinic_sheets(coordinator, TUESDAY, None)) == 2


def test_a_film_that_is_there_is_not_asked_for_first(coordinator: Person) -> None:
    review = due()
    booked(review, TUESDAY)
    film = Film(
        injury=review.procedure.injury,
        site=review.site,
        taken_on=date(2026, 11, 20),
        view="zanca",
        shows_both_sides=True,
    )
    records.create(film, by=coordinator, now=NOW)
    (sheet,) = papers.clinic_sheets(coordinator, TUESDAY, None)
    assert not sheet.lines[0].film_first


def test_nobody_sees_the_clinic_of_another_site(coordinator: Person) -> None:
    booked(due(site="south"), TUESDAY)
    assert papers.clinic_sheets(coordinator, TUESDAY, None) == []


def test_the_call_sheet_has_those_who_are_to_be_tried_today(coordinator: Person) -> None:
    due("Call", phone="1")
    due("Nothing known")
    booked(due("Booked", phone="1"))
    tried = due("Tried", phone="1")
    contacts.record_attempt(
        review=tried, means="phone", outcome="no_answer", note="", by=coordinator, now=NOW
    )
    assert names(coordinator) == ["Call, Ada", "Nothing known, Ada"]
    assert "Tried, Ada" in names(coordinator, date(2026, 11, 27))


def test_who_declined_is_not_on_the_call_sheet(coordinator: Person) -> None:
    review = due("Declined", phone="1")
    contacts.record_attempt(
        review=review, means="phone", outcome="declined", note="", by=coordinator, now=NOW
    )
    assert names(coordinator, date(2026, 12, 5)) == []


def test_a_sheet_that_is_too_long_says_so(
    coordinator: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(papers, "MOST_CALLS", 2)
    for _ in range(2):
        due(phone="1")
    assert not papers.call_sheet(coordinator, TODAY, DueFilter()).cut_off
    due(phone="1")
    sheet = papers.call_sheet(coordinator, TODAY, DueFilter())
    assert (len(sheet.rows), sheet.cut_off) == (2, True)
