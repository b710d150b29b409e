"""An attacker holds the extracts of two projects about the same patients, and tries to join them."""

import io
import json
import zipfile
from collections import defaultdict
from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.exchange import extract
from analytics.rules import extracts, pseudonyms
from analytics.rules.extracts import Plan
from analytics.selectors import frames
from registry.models import Patient, Procedure
from tests import builders
from tests.analytics.records import calls_its_own, complication, reading
from tests.builders import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
ALL = frozenset(f"{one.table}.{one.name}" for one in extracts.offered())
ONE, OTHER = b"1" * 32, b"2" * 32
# What is said in words of a closed list, or measured: two people may share it, and no secret can change
# it without harm to what is asked. Everything else has to differ between projects.
ALIKE = {"code", "flag", "number", "whole"}


@pytest.fixture
def people() -> list[Procedure]:
    """Ten patients, each operated, filmed and harmed on days of their own."""
    calls_its_own()
    done = []
    for place in range(10):
        day = date(2025, 1, 3 + 17 * (place % 2)) + timedelta(days=11 * place)
        born = date(1930 + 5 * place, 1, 1)
        hurt = builders.injury(
            builders.patient(birth_earliest=born, birth_latest=born),
            injured_earliest=day - timedelta(days=place),
            injured_latest=day - timedelta(days=place),
        )
        # Known keys, so that the secret days are the same in each run.
        Patient.objects.filter(pk=hurt.patient_id).update(key=f"PERSON{place}")
        hurt.patient.refresh_from_db()
        operated = builders.procedure(hurt, {"construct_type": "LP"}, performed_on=day)
        reading(operated, 20 + place, f"{9 + place / 10}")
        complication(operated, 40 + 3 * place)
        done.append(operated)
    return done


def taken(key: bytes, dates: str = "shifted", ages: str = "years") -> dict[str, pd.DataFrame]:
    built = frames.build(None, TODAY)
    return extract.tables(built, built.cases, Plan(key, ALL, dates, ages))


def whose(key: bytes, people: list[Procedure]) -> dict[str, str]:
    """Return who is behind each case's pseudonym, which no attacker knows."""
    return {
        pseudonyms.pseudonym(key, "case", str(one.pk)): one.injury.patient.key for one in people
    }


def told_of_one(frame: pd.DataFrame, column: str, who: dict[str, str]) -> dict[str, str]:
    """Return the values of a column that stand beside one patient alone, with the patient."""
    held = defaultdict(set)
    for case, value in zip(frame["case"], frame[column].astype("str"), strict=True):
        held[value].add(who[case])
    return {value: min(people) for value, people in held.items() if len(people) == 1}


def links(
    mine: pd.DataFrame, theirs: pd.DataFrame, column: str, one: dict[str, str], two: dict[str, str]
) -> tuple[int, int]:
    """Link two tables by the values that stand beside one patient in each; return how many, how many rightly."""
    here, there = told_of_one(mine, column, one), told_of_one(theirs, column, two)
    both = (set(here) & set(there)) - {"nan", "<NA>"}
    return len(both), sum(here[value] == there[value] for value in both)


def attack(people: list[Procedure], other: bytes) -> dict[str, tuple[str, int, int]]:
    """Link every column of an extract to that made with another secret: its kind, links, right links."""
    mine, theirs = taken(ONE), taken(other)
    return {
        f"{table}.{entry.name}": (
            entry.kind,
            *links(
                mine[table], theirs[table], entry.name, whose(ONE, people), whose(other, people)
            ),
        )
        for table, columns in extracts.entries(ALL, "shifted", "years").items()
        for _, entry in columns
    }


def test_no_value_that_stands_for_one_patient_joins_two_projects(people: list[Procedure]) -> None:
    tried = attack(people, OTHER)
    assert {kind for kind, _, _ in tried.values()} == {*ALIKE, "pseudonym", "date"}
    for column, (kind, made, right) in tried.items():
        if kind == "pseudonym":
            assert made == 0, column
        elif kind == "date":
            # Two days can meet by chance; an attacker who believed that would mostly be wrong.
            assert right <= max(1, made // 3), f"{column}: {right} of {made}"


def test_the_same_attack_joins_everything_where_the_secret_is_the_same(
    people: list[Procedure],
) -> None:
    tried = attack(people, ONE)
    for column in ("cases.patient", "cases.performed_on", "readings.film", "readings.taken_on"):
        kind, made, right = tried[column]
        # Moved days of two people can meet; what is of one alone joins rightly.
        assert made == right >= (10 if kind == "pseudonym" else 7), column


def test_every_day_differs_between_projects_and_the_time_between_two_stays(
    people: list[Procedure],
) -> None:
    for one in people:
        waits = set()
        dates = set()
        for key in (ONE, OTHER):
            made = taken(key)
            case = pseudonyms.pseudonym(key, "case", str(one.pk))
            row = made["cases"].set_index("case").loc[case]
            film = made["readings"].set_index("case").loc[case]
            operated = date.fromisoformat(row["performed_on"])
            assert 1 <= (one.performed_on - operated).days <= pseudonyms.LONGEST_SHIFT
            dates.add(operated)
            waits.add((date.fromisoformat(film["taken_on"]) - operated).days)
        assert len(dates) == 2
        assert len(waits) == 1


def test_one_project_goes_on_in_its_next_extract(people: list[Procedure]) -> None:
    before = set(taken(ONE)["cases"]["patient"])
    calls_its_own()
    builders.procedure(builders.injury(), {"construct_type": "HP"}, performed_on=date(2026, 6, 5))
    after = set(taken(ONE)["cases"]["patient"])
    assert before < after
    assert len(after - before) == 1


@pytest.mark.parametrize("dates", ["month", "quarter"])
def test_coarse_days_hold_no_day_anywhere(people: list[Procedure], dates: str) -> None:
    made = taken(ONE, dates, "bands")
    pattern = {"month": r"\d{4}-\d\d", "quarter": r"\d{4}-Q[1-4]"}[dates]
    told = made["cases"][f"performed_{dates}"]
    assert told.str.fullmatch(pattern).all()
    assert not [c for frame in made.values() for c in frame if c.endswith(("_day", "_on"))]
    assert set(made["cases"]["age_band"]) >= {"90+", "80-89"}


def test_ages_above_89_are_one(people: list[Procedure]) -> None:
    ages = taken(ONE)["cases"]["age_years"]
    assert ages.max() == pseudonyms.OLDEST
    assert (ages == pseudonyms.OLDEST).sum() == 2


def test_neither_key_number_nor_secret_is_in_the_file_and_equal_rows_give_equal_files(
    people: list[Procedure],
) -> None:
    plan = Plan(ONE, ALL, "shifted", "years")
    content = extract.packed(taken(ONE), {"project": "x"}, plan)
    assert content == extract.packed(taken(ONE), {"project": "x"}, plan)
    archive = zipfile.ZipFile(io.BytesIO(content))
    said = "\n".join(archive.read(name).decode() for name in archive.namelist())
    assert ONE.hex() not in said
    assert ONE.decode() not in said
    for patient in Patient.objects.all():
        assert patient.key not in said
        assert patient.identifiers.get().value not in said
    listed = json.loads(archive.read("dictionary.json"))
    for table, frame in taken(ONE).items():
        assert [one["name"] for one in listed if one["table"] == table] == list(frame.columns)


def test_a_service_without_operations_has_tables_without_rows() -> None:
    made: Any = taken(ONE)
    assert {len(frame) for frame in made.values()} == {0}
