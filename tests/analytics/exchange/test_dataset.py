import csv
import io
import json
import zipfile
from typing import Any

import pytest

from analytics.exchange import dataset, parquet
from analytics.rules.dictionary import ENTRIES, TABLES, columns_of
from analytics.selectors import frames
from followup.rules.findings import Found
from registry.models import Patient
from tests.analytics.records import complication, held, lost, reading
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")
OLDER = [name for name in frames.NAMES if name != "findings"]


def taken() -> dict[str, Any]:
    built = frames.build(None, TODAY)
    return dataset.tables(built, built.cases)


def test_days_count_from_the_operation_and_no_date_or_key_leaves() -> None:
    done = held()
    complication(done, 30)
    made = taken()
    assert list(made) == list(TABLES)
    for name, frame in made.items():
        assert list(frame.columns) == list(columns_of(name))
        assert frame.select_dtypes("datetime").empty
    assert sorted(made["readings"]["taken_day"]) == [2, 365]
    assert made["complications"]["detected_day"].tolist() == [30]
    (case,) = made["cases"].to_dict("records")
    assert (case["procedure_year"], case["procedure_quarter"]) == (2025, 2)
    said = dataset.packed(made, {}).decode("latin-1") + str(made)
    assert Patient.objects.get().key not in said


def test_tables_are_joined_by_the_case_within_one_export() -> None:
    for one in (held(), lost()):
        complication(one, 30)
    made = taken()
    assert set(made["cases"]["case"]) == {1, 2}
    for name in ("readings", "complications", "reviews"):
        assert set(made[name]["case"]) == {1, 2}
    low = made["readings"].groupby("case")["ccd_injured_mm"].max()
    assert sorted(low) == [9.4, 14.0]


def test_findings_are_joined_to_their_readings_by_film_and_reader() -> None:
    done = held()
    for day in (20, 40, 60, 90):
        reading(done, day, f"{day / 10:.1f}", found=[Found("ossification", "present")] * (day > 50))
    made = taken()
    joined = made["findings"].merge(made["readings"], on=["case", "film", "reader", "taken_day"])
    assert sorted(joined["ccd_injured_mm"]) == [6.0, 9.0]
    assert set(joined["kind"]) == {"ossification"}


def test_a_table_that_an_older_snapshot_lacks_is_empty_with_its_columns() -> None:
    held()
    built = frames.build(None, TODAY)
    older = frames.Frames(TODAY, **{name: getattr(built, name) for name in OLDER})
    made = dataset.tables(older, older.cases)
    assert list(made["findings"].columns) == list(columns_of("findings"))
    assert made["findings"].empty
    assert len(made["readings"]) == 2


def test_two_exports_cannot_be_joined_by_any_number() -> None:
    for _ in range(12):
        held()
    first, second = taken()["cases"], taken()["cases"]
    assert set(first["patient"]) == set(second["patient"]) == set(range(1, 13))
    orders = {tuple(taken()["cases"]["patient"]) for _ in range(5)}
    assert len(orders) > 1


def test_the_very_old_are_not_told_apart() -> None:
    held()
    built = frames.build(None, TODAY)
    built.cases["age_years"] = 97
    assert dataset.tables(built, built.cases)["cases"]["age_years"].tolist() == [90]


@pytest.mark.parametrize("kind", dataset.KINDS)
def test_the_files_come_with_their_dictionary_and_what_they_were_made_from(kind: str) -> None:
    held()
    made = taken()
    content = dataset.packed(made, {"snapshot": "abc"}, kind)
    assert dataset.packed(made, {"snapshot": "abc"}, kind) == content
    archive = zipfile.ZipFile(io.BytesIO(content))
    others = {"dictionary.csv", "dictionary.json", "about.json"}
    assert set(archive.namelist()) == {f"{name}.{kind}" for name in TABLES} | others
    told = json.loads(archive.read("dictionary.json"))
    assert [(one["table"], one["name"]) for one in told] == [(e.table, e.name) for e in ENTRIES]
    assert json.loads(archive.read("about.json")) == {"snapshot": "abc"}
    if kind == "csv":
        rows = list(csv.DictReader(io.StringIO(archive.read("readings.csv").decode())))
        assert sorted(row["ccd_injured_mm"] for row in rows) == ["9.0", "9.4"]
    else:
        assert len(parquet.unpacked(archive.read("readings.parquet"))) == 2


def test_another_kind_of_file_is_refused() -> None:
    with pytest.raises(ValueError, match="'pdf' is no kind of file"):
        dataset.packed({}, {}, "pdf")


def test_a_service_without_operations_has_tables_too() -> None:
    made = taken()
    assert {len(frame) for frame in made.values()} == {0}
