from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.scores.constant import (
    ConstantParts,
    constant,
    from_numbers,
    motion_points,
    pain_from_line,
    strength_points,
)

# Pain line 4.4 cm -> 11; sleep 1 + work 3 + recreation 3 + hand at the head's top 8 -> 15;
# flexion 125 -> 8, abduction 100 -> 6, three rotation tasks -> 6, thumb at L3 -> 6, together 26;
# 6.2 kg / 0.45359237 = 13.67 lb. 11 + 15 + 26 + 13.67 = 65.67
EXAMPLE = ConstantParts(
    pain_points=pain_from_line(4.4),
    sleep=1,
    work=3,
    recreation=3,
    hand_position=8,
    flexion_deg=125,
    abduction_deg=100,
    external_rotation_tasks=3,
    internal_rotation="l3",
    strength_kg=6.2,
)
BEST = ConstantParts(15, 2, 4, 4, 10, 180, 180, 5, "t7", 20.0)
WORST = ConstantParts(0, 0, 0, 0, 0, 0, 0, 0, "thigh", 0.0)


def test_the_parts_add_up_to_the_total() -> None:
    assert constant(EXAMPLE).value == pytest.approx(65.67, abs=5e-3)


def test_an_arm_that_does_not_reach_90_degrees_has_no_strength_and_a_total() -> None:
    # 65.67 - 13.67
    assert constant(replace(EXAMPLE, reaches_90=False)).value == pytest.approx(52)
    unmeasured = replace(EXAMPLE, reaches_90=False, strength_kg=None)
    assert constant(unmeasured).value == pytest.approx(52)


def test_the_ends_of_the_scale_are_0_and_100() -> None:
    assert constant(WORST).value == 0
    assert constant(BEST).value == 100


@pytest.mark.parametrize(
    "name", [one.name for one in fields(ConstantParts) if one.name != "reaches_90"]
)
def test_a_part_that_was_not_examined_leaves_no_total_and_is_named(name: str) -> None:
    result = constant(replace(EXAMPLE, **{name: None}))
    assert result.value is None
    part = name.removesuffix("_kg").replace("_", " ")
    assert result.reason == f"{part} was not examined"


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("pain_points", 16, "pain points is 16; it goes from 0 to 15"),
        ("sleep", 3, "sleep is 3; it goes from 0 to 2"),
        ("hand_position", 12, "hand position is 12; it goes from 0 to 10"),
        ("hand_position", 5, "hand position is 5; it goes from 0 to 10 in twos"),
        ("flexion_deg", 240, "flexion deg is 240; it goes from 0 to 190"),
        ("external_rotation_tasks", -1, "external rotation tasks is -1"),
        ("internal_rotation", "t4", "internal rotation was not examined"),
        ("strength_kg", -5.0, "strength is -5 kg; it goes from 0 to 60"),
        ("strength_kg", 136.0, "strength is 136 kg; it goes from 0 to 60"),
        ("strength_kg", float("nan"), "strength is nan kg"),
    ],
)
def test_a_part_that_cannot_be_leaves_no_total(name: str, value: object, says: str) -> None:
    result = constant(replace(EXAMPLE, **{name: value}))  # type: ignore[arg-type]
    assert result.value is None
    assert says in result.reason


# Point table as printed (Dan Med J 2013;60(4)): 0-30 none, then two points for each 30 degrees.
@pytest.mark.parametrize(
    ("low", "high", "points"),
    [(0, 30, 0), (31, 60, 2), (61, 90, 4), (91, 120, 6), (121, 150, 8), (151, 180, 10)],
)
def test_motion_has_two_points_for_each_30_degrees(low: int, high: int, points: int) -> None:
    assert {motion_points(degrees) for degrees in range(low, high + 1)} == {points}


# The printed examples of rounding: 1.4 to 1, 1.5 to 2.
@pytest.mark.parametrize(
    ("mark", "points"), [(0, 15), (1.4, 14), (1.5, 13), (4.4, 11), (14.5, 0), (15, 0)]
)
def test_the_pain_line_is_rounded_and_taken_from_15(mark: float, points: int) -> None:
    assert pain_from_line(mark) == points


@pytest.mark.parametrize("mark", [-0.1, 15.1, float("nan")])
def test_a_mark_off_the_line_is_refused(mark: float) -> None:
    with pytest.raises(ValueError, match="the line goes from 0 to 15"):
        pain_from_line(mark)


def test_strength_is_one_point_a_pound_and_ends_at_25() -> None:
    assert strength_points(0.45359237, reaches_90=True) == pytest.approx(1)
    assert strength_points(11.34, reaches_90=True) == pytest.approx(25, abs=1e-3)
    assert strength_points(30, reaches_90=True) == 25
    assert strength_points(None, reaches_90=True) is None
    assert strength_points(30, reaches_90=False) == 0


@given(strength=st.floats(0, 60), flexion=st.integers(0, 190), abduction=st.integers(0, 190))
def test_the_total_stays_between_0_and_100(strength: float, flexion: int, abduction: int) -> None:
    parts = replace(BEST, strength_kg=strength, flexion_deg=flexion, abduction_deg=abduction)
    value = constant(parts).value
    assert value is not None
    assert 0 <= value <= 100


# EXAMPLE by number; L3 is the fourth landmark, counted from 0.
NUMBERS: dict[int, float] = {
    **{1: 11, 2: 1, 3: 3, 4: 3, 5: 8, 6: 125, 7: 100, 8: 3, 9: 3, 10: 6.2},
}


def test_the_parts_are_taken_by_number() -> None:
    assert from_numbers(NUMBERS).value == pytest.approx(65.67, abs=5e-3)


def test_an_arm_that_was_not_lifted_to_90_degrees_has_no_strength() -> None:
    # flexion 85 gives 4 and abduction 80 gives 4 where the example has 8 and 6: 52 - 6
    low = {**NUMBERS, 6: 85, 7: 80}
    assert from_numbers(low).value == pytest.approx(46)
    unmeasured = {number: part for number, part in low.items() if number != 10}
    assert from_numbers(unmeasured).value == pytest.approx(46)
    assert from_numbers({**NUMBERS, 11: 0}).value == pytest.approx(52)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({6: 85, 7: 80, 11: 1}, "the arm reaches 90 degrees, and it was lifted to 85 at most"),
        ({9: 6}, "item 9 is 6; it goes from 0 to 5"),
        ({5: 5}, "hand position is 5; it goes from 0 to 10 in twos"),
        ({12: 1}, "there is no item 12"),
        ({10: -1}, "item 10 is -1"),
    ],
)
def test_numbers_that_cannot_be_give_no_total(changed: dict[int, float], says: str) -> None:
    result = from_numbers({**NUMBERS, **changed})
    assert result.value is None
    assert says in result.reason


@pytest.mark.parametrize("number", range(1, 10))
def test_by_number_a_part_left_out_leaves_no_total(number: int) -> None:
    left = {one: part for one, part in NUMBERS.items() if one != number}
    assert from_numbers(left).reason.endswith("was not examined")


@given(
    number=st.sampled_from([1, 2, 3, 4, 6, 7, 8, 9, 10]),
    more=st.integers(0, 60),
    base=st.fixed_dictionaries(
        {
            **{1: st.integers(0, 15), 2: st.integers(0, 2), 3: st.integers(0, 4)},
            **{4: st.integers(0, 4), 5: st.sampled_from([0, 2, 4, 6, 8, 10])},
            **{6: st.integers(0, 190), 7: st.integers(0, 190), 8: st.integers(0, 5)},
            **{9: st.integers(0, 5), 10: st.integers(0, 60)},
        }
    ),
)
def test_no_better_part_ever_lowers_the_total(
    number: int, more: int, base: dict[int, float]
) -> None:
    highest = {1: 15, 2: 2, 3: 4, 4: 4, 6: 190, 7: 190, 8: 5, 9: 5, 10: 60}
    before = from_numbers(base).value
    after = from_numbers({**base, number: min(highest[number], base[number] + more)}).value
    assert before is not None
    assert after is not None
    assert 0 <= before <= after <= 100
