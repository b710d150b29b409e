from datetime import timedelta

import pandas as pd
import pytest

from analytics.selectors import frame_cases, frame_films
from tests.analytics.records import OPERATED, operation, reading
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_readings_say_who_read_when_and_whether_blind() -> None:
    done = operation()
    made = reading(done, 2, "9.0")
    cases = frame_cases.cases(None, TODAY)
    (row,) = frame_films.readings(cases, TODAY).to_dict("records")
    assert (row["reading_id"], row["procedure_id"]) == (made.pk, done.pk)
    assert row["read_on"] == pd.Timestamp(made.read_on)
    assert (row["blind"], row["shows_both_sides"]) == (False, True)
    assert pd.isna(row["weighted"])


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
