from typing import Any

import pytest

from followup.models import Complication, Film, MotionExam, Reading
from followup.rules.case_columns.column import Column, Kind
from followup.rules.case_columns.followed import (
    BASELINE,
    FILM_DEFAULTS,
    LATER,
    TIMEPOINTS,
    complication,
    follow_up,
)
from followup.rules.scores import catalogue
from registry.models.patients import PatientStatus

COLUMNS = (*FILM_DEFAULTS, *BASELINE, *follow_up("6w"), *complication(1))


def stored(column: Column) -> Any:
    homes = [Complication] if column.group == "complication_1" else [Film, Reading, MotionExam]
    fields = [
        field
        for model in homes
        for field in model._meta.concrete_fields
        if field.name == column.field
    ]
    return fields[0]


@pytest.mark.parametrize(
    "column", [c for c in COLUMNS if c.kind == Kind.CODE], ids=lambda column: column.name
)
def test_the_codes_of_a_column_are_those_of_its_field(column: Column) -> None:
    assert list(column.allowed) == [code for code, _ in stored(column).choices]


@pytest.mark.parametrize(
    "column",
    [c for c in COLUMNS if c.kind in (Kind.COUNT, Kind.TENTH)],
    ids=lambda column: column.name,
)
def test_a_measurement_goes_to_a_field_that_may_stay_empty(column: Column) -> None:
    assert stored(column).null


def test_totals_belong_to_known_instruments() -> None:
    totals = {c.field for c in COLUMNS if c.kind == Kind.SCORE}
    assert totals == {"pain_nrs", "quickdash", "constant"}
    assert totals <= set(catalogue.INSTRUMENTS)


def test_everything_found_at_a_visit_needs_its_day() -> None:
    for timepoint in TIMEPOINTS:
        day, *found = follow_up(timepoint)
        assert day.name == f"f{timepoint}_date"
        assert {column.needs for column in found} == {day.name}


def test_repeated_columns_share_one_line_of_the_documentation() -> None:
    lines = [{column.documented for column in follow_up(timepoint)} for timepoint in TIMEPOINTS]
    assert all(line == lines[0] for line in lines)
    assert "f{T}_date" in lines[0]


def test_an_event_needs_both_its_kind_and_its_day() -> None:
    needs = {column.field: column.needs for column in complication(2)}
    assert needs["kind"] == "complication_2_date"
    assert needs["detected_on"] == needs["grade"] == "complication_2_kind"


def test_every_way_out_of_follow_up_has_its_date() -> None:
    ends = {column.field for column in LATER if column.group == "status"}
    assert ends == {str(status) for status in PatientStatus} - {"active"}
