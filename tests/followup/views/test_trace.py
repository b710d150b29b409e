import io
from typing import Any

import openpyxl
import pytest
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, Part, Person
from tests import builders
from tests.implanted import PLATE, part

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(coordinator: Person) -> Client:
    found = Client()
    found.force_login(coordinator)
    return found


def get(client: Client, name: str = "trace", **asked: str) -> Any:
    return client.get(reverse(name), asked)


def said(answer: Any) -> str:
    return str(answer.content.decode())


def name_of(row: Part) -> str:
    return str(row.construct.procedure.injury.patient.identity)


def test_the_page_tells_certain_near_and_not_excluded_apart(client: Client) -> None:
    rows = {one: part(batch=one) for one in ("lot 42a", "LOT42A21SN1", "", "LOT9")}
    page = get(client, device_identifier=PLATE, batch="LOT42A")
    assert name_of(rows["lot 42a"]) in said(page)
    assert not [one for one in ("LOT42A21SN1", "", "LOT9") if name_of(rows[one]) in said(page)]
    assert [tab["number"] for tab in page.context["tabs"]] == [1, 1, 1]
    near = said(get(client, device_identifier=PLATE, batch="LOT42A", show="near"))
    assert name_of(rows["LOT42A21SN1"]) in near
    assert "not mixed in" in near
    missing = said(get(client, device_identifier=PLATE, batch="LOT42A", show="not_excluded"))
    assert name_of(rows[""]) in missing
    assert "batch not recorded" in missing


def test_nothing_is_listed_before_anything_is_asked(client: Client) -> None:
    row = part(batch="LOT42A")
    assert name_of(row) not in said(get(client))
    page = said(get(client, operated_from="2026-01-01"))
    assert "Give at least one mark" in page
    assert name_of(row) not in page


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"batch": "LOT1", "batch_to": "LAT9"}, "begin alike"),
        ({"batch_to": "LAT9"}, "first number"),
        ({"batch": "L1", "operated_from": "2026-05-01", "operated_to": "2026-04-01"}, "before"),
        ({"batch": "L1", "expires_from": "2026-05-01"}, "both ends"),
        ({"batch": "L1", "operated_from": "5/5/26"}, "year-month-day"),
    ],
)
def test_a_question_that_cannot_be_is_refused_in_words(
    client: Client, asked: dict[str, str], words: str
) -> None:
    assert words in said(get(client, **asked))


def test_names_are_for_those_alone_who_may_see_them(quality_lead: Person) -> None:
    row = part(batch="LOT42A")
    client = Client()
    client.force_login(quality_lead)
    page = said(get(client, batch="LOT42A"))
    assert row.construct.procedure.injury.patient.key in page
    assert name_of(row) not in page
    assert not AuditEntry.objects.filter(action="read").exists()


def test_who_was_named_to_whom_is_written_down(client: Client, coordinator: Person) -> None:
    row = part(batch="LOT42A")
    get(client, batch="LOT42A")
    entry = AuditEntry.objects.get(action="read")
    assert entry.person_id == coordinator.pk
    assert entry.after == {"keys": [row.construct.procedure.injury.patient.key]}


def test_a_table_is_taken_along_whole_and_no_cell_runs(client: Client) -> None:
    part(batch="LOT42A", serial="=1+1", catalogue_number="@SUM(A1)")
    answer = get(client, "trace-csv", batch="LOT42A")
    text = b"".join(answer).decode("utf-8-sig")
    assert text.startswith("patient,name,site")
    assert "'=1+1" in text
    assert "'@SUM(A1)" in text
    book = openpyxl.load_workbook(io.BytesIO(get(client, "trace-xlsx", batch="LOT42A").content))
    cells = [cell.value for cell in list(book.active.rows)[1]]
    assert "'=1+1" in cells
    taken = AuditEntry.objects.filter(table="registry_part", action="read")
    assert taken.count() == 2


def test_a_table_of_nothing_that_was_asked_has_no_rows(client: Client) -> None:
    part(batch="LOT42A")
    assert b"".join(get(client, "trace-csv")).count(b"\n") == 1


def test_the_grades_say_how_far_parts_can_be_traced(client: Client) -> None:
    part(batch="LOT42A")
    part(batch="", device_identifier="", catalogue_number="P-6")
    far = part(at=builders.site("south"), batch="LOT42A")
    page = said(get(client, "trace-grades"))
    assert '1 <span class="soft">(50 %)</span>' in page
    assert str(far.site) not in page


def test_pages_are_cut_in_the_database(client: Client) -> None:
    operation = builders.procedure()
    for _ in range(60):
        part(operation, batch="LOT42A")
    page = get(client, batch="LOT42A")
    assert len(page.context["lines"]) == 50
    assert len(get(client, batch="LOT42A", page="2").context["lines"]) == 10
    assert "show=certain&amp;page=2" in said(page)
