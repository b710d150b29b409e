import pandas as pd
import pytest

from analytics.rules import dictionary
from analytics.rules.dictionary import ENTRIES, TABLES, columns_of
from analytics.selectors import frames
from followup.models.complications import ComplicationGrade, Relation
from followup.models.films import FractureLine, HardwareOnFilm, Posture, Union, View
from followup.models.findings import FindingKind, FindingState
from followup.rules.findings import GRADES, PLACES
from registry.models.injuries import CLASS_CODES, Demand, Mechanism, SportDemand
from registry.models.procedures import Approach, Grade, ReductionQuality
from tests.builders import TODAY

# What the frames hold and the data set leaves out: keys, what joins, what names a step's words.
LEFT_OUT = {
    *("procedure_id", "index_id", "injury_id", "patient_key", "surgeon_id", "reader_id", "film_id"),
    *("reading_id", "complication_id", "review_id", "exam_id", "score_id", "after_id", "protocol"),
    *("performed_on", "injured_earliest", "injured_latest", "procedure_year", "examined_on"),
    *("answered_on", "recorded_on", "entered_on", "state", "because", "missed_count"),
    *("image_id", "frame", "calibration_id"),
    *("offset_days", "motion_required", "scores_required", "protocol_version", "site"),
}


@pytest.mark.django_db
def test_every_column_of_the_frames_has_an_entry_or_is_left_out_on_purpose() -> None:
    built = frames.build(None, TODAY)
    for table in TABLES:
        frame: pd.DataFrame = getattr(built, table)
        for column in frame.columns:
            name = column.removesuffix("_on") + "_day" if column.endswith("_on") else column
            name = f"{column}_day" if column == "onset_earliest" else name
            known = name in columns_of(table) or column in LEFT_OUT
            assert known, f"give {table}.{column} an entry, or leave it out on purpose"


def test_an_entry_says_what_it_means_and_stands_once() -> None:
    assert len({(one.table, one.name) for one in ENTRIES}) == len(ENTRIES)
    assert all(one.meaning and one.source and one.since for one in ENTRIES)
    assert {one.kind for one in ENTRIES} == {"whole", "number", "code", "flag"}
    assert not {one.name for one in ENTRIES} & (
        LEFT_OUT - {"procedure_year", "protocol_version", "site"}
    )


@pytest.mark.parametrize(
    ("table", "name", "codes"),
    [
        ("cases", "mechanism", Mechanism.values),
        ("cases", "work_demand", Demand.values),
        ("cases", "sport_demand", SportDemand.values),
        ("cases", "operator_grade", Grade.values),
        ("cases", "approach", Approach.values),
        ("cases", "reduction_quality", ReductionQuality.values),
        ("cases", "neer", CLASS_CODES["neer"]),
        ("cases", "ao_ota", CLASS_CODES["ao_ota"]),
        ("cases", "rockwood", CLASS_CODES["rockwood"]),
        ("readings", "view", View.values),
        ("readings", "position", Posture.values),
        ("readings", "union", Union.values),
        ("readings", "hardware", HardwareOnFilm.values),
        ("readings", "fracture_line", FractureLine.values),
        ("findings", "kind", FindingKind.values),
        ("findings", "found", FindingState.values),
        ("findings", "grade", [str(grade) for grade in GRADES]),
        ("findings", "place", PLACES),
        ("complications", "grade", ComplicationGrade.values),
        ("complications", "relation", Relation.values),
    ],
)
def test_codes_are_those_that_are_recorded(table: str, name: str, codes: list[str]) -> None:
    (entry,) = [one for one in ENTRIES if (one.table, one.name) == (table, name)]
    assert set(entry.codes) == set(codes)


def test_a_table_of_which_nothing_may_leave_is_named() -> None:
    with pytest.raises(KeyError, match="'people' is no table"):
        columns_of("people")
    assert dictionary.TABLES[0] == "cases"
