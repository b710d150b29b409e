"""What a step says of motion at its time."""

import json
from pathlib import Path
from typing import Any

import pytest

from followup.rules.step_milestones import (
    MOST,
    Milestone,
    check,
    faults,
    in_words,
    milestones_of,
)

LIMIT: dict[str, Any] = {
    "movement": "flexion",
    "mode": "passive",
    "at_least_deg": None,
    "at_most_deg": 90,
    "words": "passive elevation to 90 degrees before 6 weeks",
    "source": "common practice, no source",
}
IN_WORDS_ALONE = {
    **LIMIT,
    "movement": "",
    "mode": "",
    "at_most_deg": None,
    "words": "strengthening from 12 weeks",
}


def test_what_a_step_keeps_becomes_plain_values() -> None:
    check([LIMIT, IN_WORDS_ALONE])
    first, second = milestones_of([LIMIT, IN_WORDS_ALONE])
    assert first == Milestone("flexion", "passive", None, 90, LIMIT["words"], LIMIT["source"])
    assert in_words(first) == (
        "passive flexion at most 90 degrees: passive elevation to 90 degrees before 6 weeks "
        "(common practice, no source)"
    )
    assert in_words(second) == "strengthening from 12 weeks (common practice, no source)"


def test_both_limits_stand_in_one_milestone() -> None:
    both = {**LIMIT, "movement": "external_rotation", "mode": "active", "at_least_deg": -10}
    assert faults(both) == {}
    assert in_words(*milestones_of([both])).startswith(
        "active external rotation at least -10 and at most 90 degrees: "
    )


@pytest.mark.parametrize(
    ("changes", "part", "words"),
    [
        ({"words": " "}, "words", "Say in words"),
        ({"words": "a" * 121}, "words", "room for 120"),
        ({"source": ""}, "source", "or write 'common practice, no source'"),
        ({"source": None}, "source", "Name the source"),
        ({"movement": "elevation"}, "movement", "take flexion, abduction or external_rotation"),
        ({"movement": ""}, "movement", "which movement the degrees are of"),
        ({"mode": "assisted"}, "mode", "neither active nor passive"),
        ({"mode": ""}, "mode", "of active or of passive motion"),
        ({"at_most_deg": 191}, "at_most_deg", "it goes from 0 to 190"),
        ({"at_least_deg": -1}, "at_least_deg", "-1 degrees cannot be"),
        ({"movement": "external_rotation", "at_most_deg": 121}, "at_most_deg", "from -60 to 120"),
        ({"at_most_deg": "90"}, "at_most_deg", "not a whole number"),
        ({"at_most_deg": True}, "at_most_deg", "not a whole number"),
        ({"at_least_deg": 91}, "at_most_deg", "At most 90 degrees is less than at least 91"),
    ],
)
def test_each_fault_stands_by_its_part(changes: dict[str, Any], part: str, words: str) -> None:
    row = {**LIMIT, **changes}
    assert words in faults(row)[part]
    with pytest.raises(ValueError, match=f"milestone 1, {part}: "):
        check([row])


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{**LIMIT, "when": "6 weeks"}], "it needs movement, mode, at_least_deg"),
        ([{}], "milestone 1 has nothing"),
        ([LIMIT, IN_WORDS_ALONE, {**LIMIT, "at_most_deg": 120}], "milestone 3 is of passive"),
        ([IN_WORDS_ALONE] * (MOST + 1), "9 milestones are too many"),
    ],
)
def test_milestones_that_do_not_go_together_are_refused(rows: list[Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        check(rows)


def test_every_shipped_milestone_can_be_and_names_its_source() -> None:
    shipped = json.loads(Path("fixtures/protocols.json").read_text(encoding="utf-8"))
    of_steps = [step["milestones"] for one in shipped for step in one["steps"]]
    for rows in of_steps:
        check(rows)
    words = {row["words"] for rows in of_steps for row in rows}
    assert "passive elevation to 90 degrees before 6 weeks" in words
    assert "active movement from 6 weeks" in words
    assert "strengthening from 12 weeks" in words
