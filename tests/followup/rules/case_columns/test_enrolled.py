from typing import Any

import pytest

from followup.rules.case_columns.column import Column, Kind
from followup.rules.case_columns.enrolled import CONSTRUCT, INJURY, PERSON, PROCEDURE
from registry.models import Construct, Identifier, Identity, Injury, Procedure
from registry.models.injuries import CLASS_CODES

ROWS = {"injury": Injury, "procedure": Procedure, "construct": Construct, "person": Identity}
COLUMNS = (*PERSON, *INJURY, *PROCEDURE, *CONSTRUCT)


def stored(column: Column) -> Any:
    return ROWS[column.group]._meta.get_field(column.field)


@pytest.mark.parametrize(
    "column",
    [c for c in COLUMNS if c.kind == Kind.CODE and c.group != "class"],
    ids=lambda column: column.name,
)
def test_the_codes_of_a_column_are_those_of_its_field(column: Column) -> None:
    assert list(column.allowed) == [code for code, _ in stored(column).choices]


@pytest.mark.parametrize("column", [c for c in COLUMNS if c.group == "class"], ids=lambda c: c.name)
def test_the_classes_of_a_column_are_those_of_its_system(column: Column) -> None:
    assert column.allowed == CLASS_CODES[column.field]


def test_every_class_system_has_its_column() -> None:
    assert {c.field for c in COLUMNS if c.group == "class"} == {str(name) for name in CLASS_CODES}


@pytest.mark.parametrize(
    "column",
    [c for c in COLUMNS if c.longest and c.field not in ("local_id", "reason")],
    ids=lambda column: column.name,
)
def test_a_text_is_as_long_as_its_field_keeps(column: Column) -> None:
    assert column.longest == stored(column).max_length


def test_a_local_number_is_as_long_as_an_identifier_keeps() -> None:
    (column,) = (c for c in PERSON if c.name == "local_id")
    assert column.longest == Identifier._meta.get_field("value").max_length


@pytest.mark.parametrize(
    "column",
    [c for c in COLUMNS if c.kind in (Kind.COUNT, Kind.TENTH)],
    ids=lambda column: column.name,
)
def test_a_number_goes_to_a_field_that_may_stay_empty(column: Column) -> None:
    assert stored(column).null


def test_every_fact_of_a_construct_has_its_column() -> None:
    facts = {
        field.name
        for field in Construct._meta.concrete_fields
        if field.name in Construct.__dict__ and not field.is_relation
    }
    shared = {"id", "version", "recorded_at", "changed_at", "voided_at", "void_reason"}
    columns = {c.field for c in CONSTRUCT if c.group == "construct"}
    assert facts - shared - {"missing", "flags"} == columns - {"construct_type"}
