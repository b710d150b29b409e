from dataclasses import replace
from datetime import date
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.endpoints.catalogue import DEFINITIONS, LOSS, apply, definitions_of
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film, on

RISE, RATIO, DIFFERENCE, TWICE = (
    DEFINITIONS["rise-3mm"],
    DEFINITIONS["ratio-25"],
    DEFINITIONS["difference-5mm"],
    DEFINITIONS["rise-3mm-confirmed"],
)
ON_DISTANCE = [row for row in definitions_of(LOSS) if row.rule != "displacement"]


def verdict(name: str, given: Data) -> dict[str, Any]:
    row = apply(DEFINITIONS[name], given).verdicts.loc[1]
    return {key: None if pd.isna(value) else value for key, value in row.items()}


def day(number: int) -> pd.Timestamp:
    return pd.Timestamp(on(number))


def test_a_case_can_hold_by_one_rule_and_be_lost_by_another() -> None:
    # After the operation 8.9 mm, now 11.2, the other side 8.9: a rise of 2.3 mm but 25.84 %.
    case = data(films=[film(2, 8.9, 8.9), film(90, 11.2, 8.9)])
    assert verdict("rise-3mm", case)["event_on"] is None
    assert verdict("rise-3mm", case)["seen_until"] == day(90)
    assert verdict("ratio-25", case)["event_on"] == day(90)
    assert verdict("ratio-25", case)["seen_until"] == day(2)
    measured = apply(RATIO, case).films
    assert measured["measure"].to_list() == pytest.approx([0.0, 25.843], abs=5e-4)


@pytest.mark.parametrize(
    ("name", "lost"),
    [("ratio-25", True), ("ratio-50", False), ("doubled", False), ("difference-5mm", False)],
)
def test_thirteen_and_a_half_against_nine_is_just_fifty_per_cent(name: str, lost: bool) -> None:
    case = data(films=[film(2, 9.0, 9.0), film(90, 13.5, 9.0)])
    assert (verdict(name, case)["event_on"] is not None) is lost


@pytest.mark.parametrize(
    ("name", "injured", "other", "lost"),
    [
        ("rise-3mm", 11.9, 8.9, False),
        ("rise-3mm", 12.0, 8.9, True),
        ("ratio-25", 11.2, 9.0, False),
        ("ratio-25", 11.25, 9.0, True),
        ("difference-5mm", 13.9, 8.9, False),
        ("difference-5mm", 14.0, 8.9, True),
        ("doubled", 17.7, 8.9, False),
        ("doubled", 17.8, 8.9, True),
    ],
)
def test_each_threshold_has_its_own_edge(
    name: str, injured: float, other: float, lost: bool
) -> None:
    case = data(films=[film(2, 8.9, other), film(90, injured, other)])
    assert (verdict(name, case)["event_on"] is not None) is lost


def test_without_a_film_in_the_baseline_window_nothing_can_be_judged() -> None:
    case = data(films=[film(28, 9.0, 9.0), film(90, 20.0, 9.0)])
    for definition in definitions_of(LOSS):
        found = verdict(definition.id, case)
        assert found["not_evaluable"] == "no_baseline"
        assert found["event_on"] is found["seen_until"] is None


def test_the_first_film_that_can_be_measured_is_the_baseline() -> None:
    case = data(films=[film(1), film(5, 9.0), film(20, 10.5), film(90, 12.2)])
    found = verdict("rise-3mm", case)
    assert found["baseline_on"] == day(5)
    assert found["event_on"] == day(90)


def test_of_one_days_films_the_preferred_view_is_the_baseline() -> None:
    case = data(films=[film(2, 15.0, view="ap"), film(2, 9.0), film(90, 12.5)])
    assert verdict("rise-3mm", case)["event_on"] == day(90)


def test_films_before_the_operation_do_not_count() -> None:
    case = data(films=[film(-3, 18.0, 9.0), film(2, 9.0, 9.0), film(90, 9.2, 9.0)])
    for definition in ON_DISTANCE:
        assert verdict(definition.id, case)["baseline_on"] == day(2)
        assert verdict(definition.id, case)["event_on"] is None


@pytest.mark.parametrize(
    ("later", "compared"),
    [
        ({"view": "ap"}, False),
        ({"position": "supine"}, False),
        ({"position": "unknown"}, True),
        ({"calibrated": False}, False),
    ],
)
def test_a_rise_is_compared_only_with_films_like_the_first(
    later: dict[str, Any], compared: bool
) -> None:
    case = data(films=[film(2, 9.0), film(90, 14.0, **later)])
    assert (verdict("rise-3mm", case)["event_on"] is not None) is compared


def test_a_first_film_of_unknown_posture_is_compared_with_any() -> None:
    case = data(films=[film(2, 9.0, position="unknown"), film(90, 14.0, position="supine")])
    assert verdict("rise-3mm", case)["event_on"] == day(90)


@pytest.mark.parametrize("state", ["injured_before", "operated_before", "unknown"])
def test_the_other_shoulder_is_a_reference_only_when_uninjured(state: str) -> None:
    case = data([{"other_shoulder": state}], [film(2, 9.0, 9.0), film(90, 14.0, 9.0)])
    for name in ("ratio-25", "ratio-50", "doubled", "difference-5mm"):
        assert verdict(name, case)["not_evaluable"] == "other_shoulder"
    assert verdict("rise-3mm", case)["event_on"] == day(90)


def test_a_film_without_the_other_shoulder_is_no_baseline_for_a_comparison_of_sides() -> None:
    case = data(films=[film(2, 9.0), film(90, 14.0, 9.0)])
    assert verdict("ratio-25", case)["not_evaluable"] == "no_baseline"


def test_a_ratio_needs_no_calibration_but_a_side_difference_does() -> None:
    case = data(
        films=[
            film(2, calibrated=False, ccd_side_ratio_pct=3.0),
            film(90, calibrated=False, ccd_side_ratio_pct=60.0),
        ]
    )
    assert verdict("ratio-25", case)["event_on"] == day(90)
    assert verdict("difference-5mm", case)["not_evaluable"] == "no_baseline"


def test_over_the_threshold_from_the_first_film_there_was_nothing_to_lose() -> None:
    case = data(films=[film(2, 12.0, 9.0), film(90, 14.0, 9.0)])
    found = verdict("ratio-25", case)
    assert found["not_evaluable"] == "not_reduced"
    assert found["event_on"] is found["seen_until"] is None
    assert verdict("ratio-50", case)["event_on"] == day(90)


def test_loss_after_a_removal_still_counts() -> None:
    case = data([{"removed_on": on(120), "planned_removal": True}], [film(2, 9.0), film(200, 14.0)])
    assert verdict("rise-3mm", case)["event_on"] == day(200)


def test_a_film_after_a_revision_says_nothing_of_the_first_construct() -> None:
    held = data([{"revised_on": on(100)}], [film(2, 9.0), film(300, 9.1)])
    assert verdict("rise-3mm", held)["seen_until"] == day(2)
    lost = data([{"revised_on": on(100)}], [film(2, 9.0), film(100, 14.0), film(300, 9.1)])
    assert verdict("rise-3mm", lost)["event_on"] == day(100)


def test_a_later_film_that_holds_again_does_not_undo_a_loss() -> None:
    case = data(films=[film(2, 9.0), film(40, 9.5), film(90, 13.0), film(180, 9.0)])
    found = verdict("rise-3mm", case)
    assert (found["seen_until"], found["event_on"]) == (day(40), day(90))


def test_two_readers_are_averaged_before_the_threshold() -> None:
    pair = [film(90, 12.4, film_id=9), film(90, 11.2, film_id=9, reader_id=2)]
    case = data(films=[film(2, 9.0), *pair])
    assert verdict("rise-3mm", case)["event_on"] is None


def test_a_loss_seen_once_is_open_until_a_second_film_or_a_revision() -> None:
    films = [film(2, 9.0), film(40, 9.2), film(90, 13.0)]
    alone = verdict("rise-3mm-confirmed", data(films=films))
    assert (alone["event_on"], alone["seen_until"], alone["unknown"]) == (
        None,
        day(40),
        "unconfirmed",
    )
    for more in ({"films": [*films, film(180, 12.5)]}, {"cases": [{"revised_on": on(99)}]}):
        found = verdict("rise-3mm-confirmed", data(**{"films": films, **more}))
        assert (found["event_on"], found["seen_until"], found["unknown"]) == (day(90), day(40), "")
    undone = verdict("rise-3mm-confirmed", data(films=[*films, film(180, 9.3)]))
    assert (undone["event_on"], undone["seen_until"]) == (None, day(180))


@pytest.mark.parametrize(("now", "within"), [(10.9, True), (11.0, False), (12.6, False)])
def test_less_than_the_detectable_change_is_within_measurement_error(
    now: float, within: bool
) -> None:
    # A made-up rule of more than 1 mm, less than two readings of one film may differ by.
    case = data(films=[film(2, 9.0), film(90, now)])
    for treatment in ("as_measured", "held"):
        rule = replace(RISE, threshold=1.0, mdc_mm=2.0, within_error=treatment)
        applied = apply(rule, case)
        assert applied.films["within_error"].tolist() == [False, within]
        counted = pd.notna(applied.verdicts.loc[1, "event_on"])
        assert counted is (not within or treatment == "as_measured")


def test_a_ratio_that_passed_its_threshold_by_a_hair_did_not_move() -> None:
    case = data(films=[film(2, 11.1, 9.0), film(90, 11.3, 9.0)])
    applied = apply(RATIO, case)
    assert applied.verdicts.loc[1, "event_on"] == day(90)
    assert applied.films["within_error"].tolist() == [False, True]
    strict = apply(replace(RATIO, within_error="held"), case)
    assert strict.verdicts.loc[1, "seen_until"] == day(90)


def test_a_detectable_change_needs_millimetres_of_one_view() -> None:
    case = data(films=[film(2, 9.0, 9.0), film(90, 9.1, 9.0, view="ap")])
    assert not apply(RATIO, case).films["within_error"].any()


@pytest.mark.parametrize(
    ("name", "more", "partial"),
    [
        ("ratio-50", [], True),
        ("ratio-25", [], False),
        ("ratio-50", [film(180, 9.3, 9.0)], False),
        ("ratio-50", [film(180, 14.0, 9.0)], False),
    ],
)
def test_what_held_partly_is_said_by_the_rule_that_knows_it(
    name: str, more: list[dict[str, Any]], partial: bool
) -> None:
    case = data(films=[film(2, 9.0, 9.0), film(90, 11.3, 9.0), *more])
    assert bool(verdict(name, case)["partial"]) is partial


def test_the_films_that_decided_are_named() -> None:
    case = data([{}, {}], [film(2, 9.0), film(40, 9.5), film(90, 13.0), film(180, 13.2)])
    named = apply(RISE, case).verdicts[["baseline_film", "seen_film", "event_film"]]
    assert named.loc[1].tolist() == [1, 2, 3]
    assert named.loc[2].tolist() == [-1, -1, -1]


@pytest.mark.parametrize("definition", definitions_of(LOSS), ids=lambda one: str(one.id))
def test_empty_frames_give_empty_or_unjudged_verdicts(definition: Any) -> None:
    assert apply(definition, data([])).verdicts.empty
    assert apply(definition, data()).verdicts.loc[1, "not_evaluable"] == "no_baseline"


films = st.lists(
    st.tuples(st.integers(0, 800), st.integers(60, 200), st.integers(60, 120)), max_size=8
)


@settings(max_examples=25, deadline=None)
@given(st.lists(films, min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_verdicts_do_not_depend_on_the_order_of_readings_and_keep_their_order_in_time(
    cases: list[list[tuple[int, int, int]]], chance: Any
) -> None:
    rows = [
        film(at, injured / 10, other / 10, procedure_id=number)
        for number, taken in enumerate(cases, 1)
        for at, injured, other in taken
    ]
    numbered = [{**row, "film_id": number, "reading_id": number} for number, row in enumerate(rows)]
    shuffled = list(numbered)
    chance.shuffle(shuffled)
    plain = [{"performed_on": date(2024, 1, 10)} for _ in cases]
    for definition in (RISE, RATIO, DIFFERENCE, TWICE):
        one, two = (
            apply(definition, data(plain, given)).verdicts for given in (numbered, shuffled)
        )
        assert one.equals(two)
        lost = one.loc[one["event_on"].notna() & one["seen_until"].notna()]
        assert (lost["seen_until"] < lost["event_on"]).all()
        judged = one.loc[one["not_evaluable"] == ""]
        assert (judged["seen_until"] >= judged["baseline_on"]).all()
