"""The Due list as a table: everything that the list says but who it is."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.selectors.due import DueFilter
from followup.selectors.due_export import HEADER, export_rows
from followup.services import contacts
from registry.models import Person
from tests.builders import NOW, TODAY, booked
from tests.followup.listed import due

pytestmark = pytest.mark.usefixtures("defaults")


def exported(user: Person, **wanted: Any) -> list[dict[str, object]]:
    rows = export_rows(user, TODAY, DueFilter(**wanted))
    return [dict(zip(HEADER, row, strict=True)) for row in rows]


def test_a_line_of_the_table_says_what_the_list_says(coordinator: Person) -> None:
    review = due()
    booked(review)
    contacts.record_attempt(
        review=review, means="phone", outcome="reached", note="", by=coordinator, now=NOW
    )
    (row,) = exported(coordinator)
    assert row["patient"] == review.procedure.injury.patient.key
    assert (row["site"], row["review"], row["side"], row["state"]) == (
        "north",
        "6 months",
        "left",
        "booked",
    )
    assert row["why_here"] == "In window, due in 10 days, booked"
    assert str(row["booked"]).startswith("Tue 01 Dec 09:00")
    assert (row["tries"], row["cannot_be_reached_since"]) == (1, None)


def test_the_filter_and_the_sight_of_the_list_hold(coordinator: Person) -> None:
    due(site="south")
    due()
    assert len(exported(coordinator)) == 1
    assert exported(coordinator, show="missed") == []


def test_no_name_is_read(coordinator: Person, counted: Callable[[], Any]) -> None:
    due()
    with counted() as queries:
        assert len(exported(coordinator)) == 1
    assert not [one for one in queries if "registry_ident" in one["sql"]]
