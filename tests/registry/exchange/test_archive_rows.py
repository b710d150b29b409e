"""A row of any table is the same after it was written as a line and read again."""

import json
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from django.db import models
from hypothesis import given
from hypothesis import strategies as st

from followup.models import Clinic, Reading
from registry.errors import BadInput
from registry.exchange import archive_rows
from registry.models import AuditEntry, Patient, Person, Site

MOMENTS = st.datetimes(timezones=st.just(UTC))
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=5,
)
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"))


def values(column: "models.Field[Any, Any]") -> st.SearchStrategy[Any]:
    """Draw what may stand in a column."""
    kinds: list[tuple[Any, st.SearchStrategy[Any]]] = [
        (models.BooleanField, st.booleans()),
        (models.FloatField, st.floats(allow_nan=False, allow_infinity=False)),
        (models.DecimalField, st.decimals(-999, 999, places=1)),
        (models.DateTimeField, MOMENTS),
        (models.DateField, st.dates()),
        (models.TimeField, st.times()),
        (models.JSONField, JSON),
        (models.IntegerField | models.ForeignKey, st.integers(0, 2**40)),
        (models.CharField | models.TextField, TEXT),
    ]
    drawn = next(strategy for kind, strategy in kinds if isinstance(column, kind))
    return drawn | st.none() if column.null else drawn


@pytest.mark.parametrize("model", [Site, Patient, Reading, Clinic, AuditEntry])
@given(data=st.data())
def test_what_is_written_is_read_as_it_was(model: type[models.Model], data: st.DataObject) -> None:
    row = {
        column.attname: data.draw(values(column), label=column.attname)
        for column in archive_rows.columns(model)
    }
    written = archive_rows.line(model, row)
    assert written.count(b"\n") == 1
    again = archive_rows.row_of(model, written, "line 1")
    assert {name: getattr(again, name) for name in row} == row


def test_days_moments_and_decimals_stand_as_the_standards_have_them() -> None:
    plain = archive_rows._plain
    assert plain(date(2026, 3, 2)) == "2026-03-02"
    assert plain(datetime(2026, 3, 2, 9, 30, tzinfo=UTC)) == "2026-03-02T09:30:00.000000Z"
    assert plain(time(9, 30)) == "09:30:00"
    assert plain(Decimal("12.30")) == "12.30"
    assert plain(b"\x00\xff") == "AP8="


def test_a_password_is_neither_written_nor_brought_back() -> None:
    row = {column.attname: None for column in archive_rows.columns(Person)}
    written = archive_rows.line(Person, {**row, "id": 1})
    assert b"password" not in written.replace(b'"must_change_password"', b"")
    back = archive_rows.row_of(Person, written, "line 1")
    assert isinstance(back, Person)
    assert not back.has_usable_password()


@pytest.mark.parametrize(
    ("written", "told"),
    [
        (b"{", "is not JSON"),
        (b"[]", "does not have the columns of registry_site"),
        (b'{"id": 1}', "does not have the columns of registry_site"),
    ],
)
def test_a_line_of_another_kind_is_named(written: bytes, told: str) -> None:
    with pytest.raises(BadInput, match=f"line 7, {told}"):
        archive_rows.row_of(Site, written, "line 7,")


def test_a_value_of_the_wrong_kind_is_named() -> None:
    row = dict.fromkeys((column.column for column in archive_rows.columns(Clinic)), None)
    with pytest.raises(BadInput, match="wrong kind"):
        archive_rows.row_of(Clinic, json.dumps({**row, "id": "soon"}).encode(), "line 1")


def test_the_schema_says_kind_codes_limit_and_reference() -> None:
    told = archive_rows.schema(Patient)
    assert told["properties"]["site_id"]["description"] == "site: a row of registry_site"
    assert told["properties"]["merged_into_id"]["type"] == ["integer", "null"]
    assert "active" in told["properties"]["status"]["enum"]
    assert told["required"] == list(told["properties"])
