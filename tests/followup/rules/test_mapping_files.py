"""A mapping can be kept as a file, read by a person, and given again."""

import json
from typing import Any

import pytest

from followup.rules import mapping_files
from followup.rules.case_translation import ColumnUse, Translation
from registry.errors import BadInput
from registry.rules.date_styles import DateStyle


def test_what_was_settled_is_written_and_read_back() -> None:
    found = Translation(
        (
            ColumnUse("OP-Datum", "procedure_date", DateStyle("day_first", 2026, "1904")),
            ColumnUse("BMI", "bmi", decimal="comma"),
            ColumnUse("Remarks", ""),
        ),
        {"injury_kind": "ac_joint"},
        {"side": {"li": "left", "?": ""}},
    )
    kept = mapping_files.to_plain(found)
    assert kept["columns"]["Remarks"] == "left out"
    assert mapping_files.from_plain(json.loads(json.dumps(kept))) == found


def test_a_field_alone_is_enough_and_words_are_matched_in_small_letters() -> None:
    found = mapping_files.from_plain(
        {"columns": {"Side": "side"}, "words": {"side": {"LI": "left"}}}
    )
    assert found.uses == (ColumnUse("Side", "side"),)
    assert found.words == {"side": {"li": "left"}}


@pytest.mark.parametrize(
    ("kept", "says"),
    [
        ({}, "names no columns"),
        ({"columns": {"a": "side"}, "color": 1}, "'color' is not known"),
        ({"columns": {"a": 5}}, "column 'a': give a field, or 'left out'"),
        ({"columns": {"a": "sides"}}, "'sides' is no field"),
        ({"columns": {"a": {"field": "side", "dates": "any"}}}, "'any' is not one of: day_first"),
        ({"columns": {"a": {"field": "side", "last_year": 26}}}, "'26' is no year from 1950"),
        ({"columns": {"a": {"field": "side", "when": 1}}}, "'when' is not known"),
        ({"columns": {"a": "side"}, "words": {"side": "li"}}, "are names with values"),
        ({"columns": {"a": "side"}, "same_for_all": {"sides": "x"}}, "'sides' is no field"),
    ],
)
def test_what_cannot_be_used_is_named(kept: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        mapping_files.from_plain(kept)
