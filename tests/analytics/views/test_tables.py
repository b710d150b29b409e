import csv
import html
import io
import re
from typing import Any

import openpyxl
import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import Release
from analytics.rules.suppression import HIDDEN, RULE
from registry.models import Person
from tests.analytics.records import complication, held, lost, operation
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("at_noon")]
RATES = "definition=rise-3mm"
OUTSIDE = (
    "outcomes-csv",
    "outcomes-definitions-csv",
    "following-csv",
    "harms-csv",
    "harms-burden-csv",
    "harms-later-csv",
    "harms-hardware-csv",
)
PAGES = ("outcomes", "compare", "harms", "following", "function", "literature", "signals")


@pytest.fixture
def at_noon(time_machine: Any) -> None:
    time_machine.move_to(NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def cells(answer: Any) -> list[list[str]]:
    return list(csv.reader(io.StringIO(answer.content.decode())))


def test_a_table_for_the_team_is_exact_in_either_kind_of_file(meeting: Client) -> None:
    held()
    lost()
    address = f"{reverse('outcomes-csv')}?{RATES}"
    plain = cells(meeting.get(address))
    answer = meeting.get(f"{address}&file=xlsx")
    assert answer["Content-Disposition"].endswith('outcomes-loss_of_reduction-12m.xlsx"')
    sheet = openpyxl.load_workbook(io.BytesIO(answer.content)).active
    assert sheet is not None
    book = [
        ["" if cell is None else str(cell) for cell in row]
        for row in sheet.iter_rows(values_only=True)
    ]
    top = [row[0] for row in plain if row[0].startswith("#")]
    assert [row[0] for row in book[: len(top)]] == top
    assert book[len(top)] == plain[len(top)]
    total = dict(zip(book[len(top)], book[-1], strict=True))
    assert (total["group"], total["operated"], total["events"]) == ("all", "2", "1")
    assert float(total["rate"]) == 0.5


def test_a_table_for_outside_hides_small_numbers_and_says_the_rule(meeting: Client) -> None:
    done = [held(), lost()]
    complication(done[0], 30)
    for name in OUTSIDE:
        of_harms = name.startswith("harms")
        answer = meeting.get(f"{reverse(name)}?{'' if of_harms else RATES}&audience=outside")
        assert "-outside.csv" in answer["Content-Disposition"], name
        table = cells(answer)
        told = {row[0]: row[1] for row in table if row[0].startswith("#")}
        assert told["# small_numbers"] == RULE
        assert "# left_out" not in told
        assert "# snapshot" in told
        head, *rows = table[len(told) :]
        numbers = {row[head.index("operated")] for row in rows}
        assert numbers <= {HIDDEN, "0"}
        assert "rate_low" not in head


@pytest.mark.parametrize(
    "address",
    [
        "compare-csv",
        "enough-csv",
        "function-csv",
        "following-csv?table=flow",
        "following-csv?table=reviews",
        "following-csv?table=responses",
        "following-csv?table=tipping",
        "following-csv?table=rates",
    ],
)
def test_no_small_number_leaves_with_what_compares_and_follows(
    meeting: Client, address: str
) -> None:
    held(construct="LP")
    lost(construct="HP")
    name, _, query = address.partition("?")
    answer = meeting.get(f"{reverse(name)}?{RATES}&{query}&audience=outside")
    assert answer.status_code == 200, answer.content
    _, *rows = [row for row in cells(answer) if not row[0].startswith("#")]
    told = [cell for row in rows for cell in row]
    assert HIDDEN in told
    assert all(int(cell) % 5 == 0 for cell in told if cell.isdigit())
    assert len([cell for cell in told if cell.isdigit()]) > 1


def test_no_other_page_can_fill_the_ledger(meeting: Client) -> None:
    held(construct="LP")
    address = f"{reverse('outcomes-csv')}?{RATES}"
    for site in ("cross-site", "same-site"):
        told = {"Sec-Fetch-Site": site}
        answer = meeting.get(f"{address}&audience=outside", headers=told)
        assert (answer.status_code, Release.objects.count()) == (400, 0)
        assert "Open this file from its page" in answer.content.decode()
        assert meeting.get(address, headers=told).status_code == 200
    own = meeting.get(f"{address}&audience=outside", headers={"Sec-Fetch-Site": "same-origin"})
    assert (own.status_code, Release.objects.count()) == (200, 1)


def test_a_table_without_a_form_for_outside_is_refused(meeting: Client) -> None:
    operation()
    answer = meeting.get(f"{reverse('following-csv')}?table=lost&audience=outside")
    assert answer.status_code == 400
    assert "no form for outside" in answer.content.decode()


@pytest.mark.parametrize("wrong", ["file=pdf", "audience=everybody"])
def test_another_kind_of_file_or_audience_is_refused(meeting: Client, wrong: str) -> None:
    operation()
    answer = meeting.get(f"{reverse('outcomes-csv')}?{RATES}&{wrong}")
    assert answer.status_code == 400
    assert "file: csv or xlsx" in answer.content.decode()


def test_the_page_offers_each_way_to_take_the_table(meeting: Client) -> None:
    held()
    page = meeting.get(f"{reverse('outcomes')}?{RATES}").content.decode()
    for more in ("&amp;file=xlsx", "&amp;audience=outside", "&amp;audience=outside&amp;file=xlsx"):
        assert more in page


@pytest.mark.parametrize("name", PAGES)
def test_each_way_that_a_page_offers_gives_a_file(meeting: Client, name: str) -> None:
    done = [held(), lost()]
    complication(done[0], 30)
    query = f"?{RATES}&show=timing" if name == "outcomes" else ""
    page = meeting.get(f"{reverse(name)}{query}").content.decode()
    ways = [html.unescape(way) for way in re.findall(r'href="([^"]*\.csv\?[^"]*)"', page)]
    assert any("file=xlsx" in way for way in ways)
    for way in ways:
        answer = meeting.get(way)
        assert answer.status_code == 200, (way, answer.content)
        assert ('.xlsx"' in answer["Content-Disposition"]) == ("file=xlsx" in way)
