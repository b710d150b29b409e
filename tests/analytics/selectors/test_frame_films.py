from datetime import timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.selectors import frame_cases, frame_films
from followup.rules.findings import Found
from followup.services import films
from tests.analytics.records import OPERATED, operation, reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
ABSENT = Found("plate_broken", "absent")


def test_readings_say_who_read_when_and_whether_blind() -> None:
    done = operation()
    made = reading(done, 2, "9.0")
    cases = frame_cases.cases(None, TODAY)
    (row,) = frame_films.readings(cases, TODAY).to_dict("records")
    assert (row["reading_id"], row["procedure_id"]) == (made.pk, done.pk)
    assert row["read_on"] == pd.Timestamp(made.read_on)
    assert (row["blind"], row["shows_both_sides"]) == (False, True)
    assert pd.isna(row["weighted"])


def test_findings_are_those_of_the_current_readings_and_only_what_was_looked_for() -> None:
    done = operation()
    out = Found("screw_backed_out", "present", place="lateral")
    first = reading(done, 90, "9.0", found=[out, Found("acromial_erosion", "present", 1)])
    at: dict[str, Any] = {
        "by": done.recorded_by,
        "now": NOW,
        "today": TODAY,
        "reader": done.recorded_by,
    }
    now = films.record_reading(
        film=first.film, values={"cortices_bridged": 3}, found=[out, ABSENT], **at
    )
    reading(done, 365, "9.0")
    cases = frame_cases.cases(None, TODAY)
    rows = frame_films.findings(cases, TODAY)
    assert rows[["kind", "found", "place"]].to_numpy().tolist() == [
        ["screw_backed_out", "present", "lateral"],
        ["plate_broken", "absent", ""],
    ]
    assert rows["grade"].isna().all()
    assert set(rows["reading_id"]) == {now.pk}
    assert frame_films.findings(cases, OPERATED + timedelta(days=30)).empty
    read = frame_films.readings(cases, TODAY).set_index("reading_id")
    assert read.loc[now.pk, ["cortices_bridged", "fracture_line"]].tolist() == [3, "not_done"]


def test_films_are_there_whether_anybody_read_them_or_not() -> None:
    done = operation()
    reading(done, 2, "9.0").film.readings.all().delete()
    reading(done, 90, "9.0", film={"view": "ap"})
    cases = frame_cases.cases(None, TODAY)
    found = frame_films.films(cases, TODAY)
    assert found["view"].tolist() == ["zanca", "ap"]
    assert found["procedure_id"].tolist() == [done.pk, done.pk]
    early = frame_films.films(cases, OPERATED + timedelta(days=30))
    assert early["on"].tolist() == [pd.Timestamp(OPERATED + timedelta(days=2))]
