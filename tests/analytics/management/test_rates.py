import csv
import io
import json
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from analytics.answers.outcomes import COLUMNS
from analytics.models import EndpointChoice, Snapshot
from tests import builders
from tests.analytics.records import held, lost, operation
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


def rates(*options: str) -> str:
    out = io.StringIO()
    call_command("rates", *options, "--cutoff", "2026-11-25", stdout=out)
    return out.getvalue()


def test_a_table_for_people_says_what_it_is_of() -> None:
    held()
    lost(construct="HP")
    lines = rates().splitlines()
    assert lines[0] == "cohort: index procedures"
    assert "definition: rise-3mm, version 1" in lines
    assert lines[-1] == "observational: not a treatment effect"
    assert any(line.startswith("HP") and "100.0% (20.7% to 100.0%)" in line for line in lines)
    assert any(line.startswith("all") and "50.0% (9.5% to 90.5%)" in line for line in lines)


def test_json_carries_the_rows_and_what_they_were_made_from() -> None:
    held()
    operation()
    given = json.loads(rates("--format", "json", "--by", "site", "--horizon", "6m"))
    assert given["made_from"]["horizon"] == "6 months"
    assert [row["group"] for row in given["rows"]] == ["north", "all"]
    total = given["rows"][-1]
    assert (total["operated"], total["evaluable"], total["not_evaluable"]) == (2, 1, 1)
    assert total["incidence"] is None


def test_csv_has_one_line_for_each_group_and_the_total() -> None:
    held()
    lost()
    head, *rows = csv.reader(io.StringIO(rates("--format", "csv")))
    assert head == list(COLUMNS)
    assert [row[0] for row in rows] == ["LP", "all"]
    assert rows[-1][1:5] == ["2", "2", "2", "1"]


def test_a_comma_in_a_code_is_no_new_column() -> None:
    held(construct="A,B")
    _, row, _ = csv.reader(io.StringIO(rates("--format", "csv")))
    assert (row[0], len(row)) == ("A,B", len(COLUMNS))


def test_one_site_can_be_asked_for_and_a_harm_too() -> None:
    held("north")
    held("south")
    given = json.loads(
        rates("--format", "json", "--site", "south", "--endpoint", "any_complication")
    )
    assert given["rows"][-1]["operated"] == 1
    assert given["made_from"]["definition"] == "any-complication, version 1"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--endpoint", "joy"), "'joy' is not an endpoint"),
        (("--definition", "best"), "'best' is not a definition of loss_of_reduction"),
        (("--site", "west"), "site: 'west' is none of your sites"),
        (("--from", "2025"), "'2025' is not a date; write year-month-day"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(options: tuple[str, ...], words: str) -> None:
    builders.site()
    with pytest.raises(CommandError, match=words):
        rates(*options)


def test_sites_that_chose_no_definition_are_refused_with_those_that_ship() -> None:
    held()
    EndpointChoice.objects.all().delete()
    with pytest.raises(CommandError, match=r"^--definition: No primary .* Name one of rise-3mm, "):
        rates()
    assert "definition: doubled, version 1" in rates("--definition", "doubled")
    assert "primary: named in the address" in rates("--definition", "doubled")


def test_a_cut_off_that_is_no_date_is_refused() -> None:
    with pytest.raises(CommandError, match=r"--cutoff: .*write year-month-day"):
        call_command("rates", "--cutoff", "today")


def test_a_cut_off_to_come_is_refused() -> None:
    with pytest.raises(CommandError, match="2026-11-26 is in the future"):
        call_command("rates", "--cutoff", "2026-11-26")


def test_a_large_service_answers_for_an_earlier_day_too_and_keeps_its_pages(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("analytics.services.snapshots.SMALL", 0)
    lost()
    rates_now = io.StringIO()
    call_command("rates", stdout=rates_now)
    assert "cutoff: 2026-11-25" in rates_now.getvalue()
    call_command("rates", "--cutoff", "2025-07-01", stdout=io.StringIO())
    assert [row.cutoff for row in Snapshot.objects.all()] == [TODAY]
    out = io.StringIO()
    call_command("rates", "--format", "json", "--cutoff", "2025-07-01", stdout=out)
    assert json.loads(out.getvalue())["made_from"]["cutoff"] == "2025-07-01"


def test_what_happened_after_the_cut_off_is_in_no_number() -> None:
    lost()
    out = io.StringIO()
    call_command("rates", "--format", "json", "--cutoff", "2025-07-01", stdout=out)
    assert json.loads(out.getvalue())["rows"][-1]["eligible"] == 0
