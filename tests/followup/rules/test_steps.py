"""The steps of a protocol in words, and what a version changes."""

from dataclasses import replace
from typing import Any

import pytest

from followup.rules.steps import StepChange, StepFacts, differences, in_words

MILESTONE = {
    "movement": "flexion",
    "mode": "passive",
    "at_least_deg": None,
    "at_most_deg": 90,
    "words": "to the shoulder",
    "source": "our policy",
}
SIX_WEEKS = StepFacts(
    code="6w",
    name="6 weeks",
    offset_value=6,
    offset_unit="weeks",
    window_before_days=14,
    window_after_days=14,
    film_views=("zanca",),
    motion=True,
    scores=("pain_nrs",),
    horizon="6w",
    source_note="our policy",
)


@pytest.mark.parametrize(
    ("changes", "part", "words"),
    [
        ({}, "when", "6 weeks"),
        ({"offset_value": 1, "offset_unit": "months"}, "when", "1 month"),
        ({}, "window", "14 days before to 14 days after"),
        (
            {"window_before_days": 1, "window_after_days": 0},
            "window",
            "1 day before to 0 days after",
        ),
        ({"window_before_days": 0, "window_after_days": 0}, "window", "on the day itself"),
        ({}, "collects", "Zanca film, motion, pain score"),
        (
            {
                "film_views": ("ap", "zanca", "chest"),
                "film_sides": {"ap": "both", "chest": "other"},
                "complication_screen": True,
                "free_items": [{"code": "sling", "words": "sling worn as agreed"}],
            },
            "collects",
            (
                "AP film of both sides, Zanca film, Chest film of the other side, motion, "
                "complications asked for, pain score, sling worn as agreed"
            ),
        ),
        ({"film_views": (), "motion": False, "scores": ()}, "collects", "nothing"),
        ({}, "horizon", "6 weeks"),
        ({"horizon": ""}, "horizon", "no horizon"),
        ({}, "milestones", "none"),
        (
            {"milestones": [MILESTONE, {**MILESTONE, "at_most_deg": None, "words": "no lifting"}]},
            "milestones",
            (
                "passive flexion at most 90 degrees: to the shoulder (our policy); "
                "no lifting (our policy)"
            ),
        ),
        ({"source_note": ""}, "source", "not given"),
    ],
)
def test_a_step_is_said_as_a_person_says_it(changes: dict[str, Any], part: str, words: str) -> None:
    assert getattr(in_words(replace(SIX_WEEKS, **changes)), part) == words


def test_the_same_steps_in_another_order_are_no_change() -> None:
    other = replace(SIX_WEEKS, code="3m", name="3 months")
    assert differences([SIX_WEEKS, other], [other, SIX_WEEKS]) == ()


def test_each_changed_part_is_named_with_both_values() -> None:
    later = replace(SIX_WEEKS, window_after_days=21, motion=False)
    assert differences([SIX_WEEKS], [later]) == (
        StepChange(
            "6 weeks: window", "14 days before to 14 days after", "14 days before to 21 days after"
        ),
        StepChange("6 weeks: collects", "Zanca film, motion, pain score", "Zanca film, pain score"),
    )


def test_a_step_that_came_and_one_that_went_are_shown_whole() -> None:
    later = replace(SIX_WEEKS, code="8w", name="8 weeks", offset_value=8)
    whole = "weeks, 14 days before to 14 days after; Zanca film, motion, pain score"
    assert differences([SIX_WEEKS], [later]) == (
        StepChange("8 weeks", "no such step", f"8 {whole}"),
        StepChange("6 weeks", f"6 {whole}", "no such step"),
    )
