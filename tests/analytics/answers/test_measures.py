import pytest

from analytics.answers.measures import ACCEPTABLE, LEVELS, MEASURES, WORTH
from followup.models.motion import InternalRotation
from followup.rules.scores.catalogue import INSTRUMENTS


def test_every_instrument_and_movement_is_a_measure() -> None:
    assert set(MEASURES) == {
        *INSTRUMENTS,
        "flexion",
        "abduction",
        "external_rotation",
        "internal_rotation",
    }


def test_which_way_is_better_is_the_instruments_own() -> None:
    assert MEASURES["pain_nrs"].lower_is_better
    assert MEASURES["quickdash"].lower_is_better
    assert not MEASURES["constant"].lower_is_better
    assert not MEASURES["flexion"].lower_is_better
    assert MEASURES["quickdash"].direction == "0 to 100, 0 is best"


def test_an_acceptable_state_is_reached_from_its_better_side() -> None:
    assert [MEASURES["pain_nrs"].reaches(value) for value in (0, 1.5, 2)] == [True, True, False]
    assert [MEASURES["ases"].reaches(value) for value in (75.9, 76, 100)] == [False, True, True]


def test_where_none_is_published_none_is_invented() -> None:
    assert set(ACCEPTABLE) == {"pain_nrs", "ases"}
    for code in ("quickdash", "constant", "sane", "flexion"):
        assert MEASURES[code].acceptable is None
        with pytest.raises(ValueError, match="no acceptable value"):
            MEASURES[code].reaches(90)


def test_each_published_value_names_source_and_population() -> None:
    for one in ACCEPTABLE.values():
        assert one.source
        assert "not fractures" in one.population
    assert set(WORTH) <= set(MEASURES)


def test_levels_are_as_many_as_are_recorded_and_in_their_order() -> None:
    assert len(LEVELS) == len(InternalRotation.values)
    assert [level[:2].lower() for level in LEVELS[:2]] == ["th", "bu"]
    assert LEVELS[-1] == "T7"
