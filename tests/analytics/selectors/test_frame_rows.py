from datetime import date

import pandas as pd
import pytest

from analytics.selectors import frame_rows
from registry.models import Procedure, Site
from tests import builders

COLUMNS = {
    "id": ("id", frame_rows.WHOLE),
    "on": ("performed_on", frame_rows.DAY),
    "minutes": ("duration_minutes", frame_rows.WHOLE_OR_NONE),
    "bmi": ("injury__bmi_kg_m2", frame_rows.NUMBER),
    "side": ("injury__side", frame_rows.CODE),
    "note": ("note", frame_rows.TEXT),
    "planned": ("planned_removal", frame_rows.FLAG),
    "entered": ("changed_at", frame_rows.INSTANT),
}
KINDS = ["int64", "datetime64[ns]", "Int64", "float64", "category", "str", "bool"]


@pytest.mark.usefixtures("defaults")
def test_each_column_has_its_kind_with_and_without_rows() -> None:
    empty = frame_rows.table(Procedure.objects.order_by("id"), COLUMNS)
    builders.procedure(performed_on=date(2026, 6, 5))
    one = frame_rows.table(Procedure.objects.order_by("id"), COLUMNS)
    for frame in (empty, one):
        assert frame.dtypes.astype(str).tolist() == [*KINDS, "datetime64[ns]"]
    (row,) = one.to_dict("records")
    assert row["on"] == pd.Timestamp(2026, 6, 5)
    assert pd.isna(row["minutes"])
    assert pd.isna(row["bmi"])
    assert (row["note"], row["planned"]) == ("", False)
    assert row["entered"] == row["entered"].normalize()


@pytest.mark.django_db
def test_a_kind_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="'colour' is not a kind"):
        frame_rows.table(Site.objects.order_by("id"), {"id": ("id", "colour")})


def test_codes_are_in_the_order_of_the_alphabet() -> None:
    made = frame_rows.codes(["b", None, "a", "b"])
    assert made.categories.tolist() == ["a", "b"]
    assert made.codes.tolist() == [1, -1, 0, 1]


def test_days_are_whole() -> None:
    days = pd.Series(pd.to_datetime(["2026-01-11", "2026-01-01"]))
    since = pd.Series(pd.to_datetime(["2026-01-01", "2026-01-01"]))
    assert frame_rows.days_after(days, since).tolist() == [10, 0]


def test_rows_of_other_injuries_are_left_out() -> None:
    cases = pd.DataFrame({"injury_id": [70, 80]}, index=pd.Index([7, 8], name="procedure_id"))
    rows = pd.DataFrame({"id": [1, 2, 3], "injury_id": [80, 90, 70]})
    made = frame_rows.of_index(rows, cases)
    assert made.to_dict("list") == {"id": [1, 3], "procedure_id": [8, 7]}
    assert frame_rows.of_index(rows.iloc[:0], cases.iloc[:0]).empty
