import pytest

from analytics.simulation.habits import ABOUT_REMOVAL, CONSTRUCTS, LEAVING, Habits, habits


def some(count: int, seed: int = 7) -> list[Habits]:
    return [habits(seed=seed, number=number, days=365) for number in range(count)]


def test_the_same_seed_and_number_live_the_same_year() -> None:
    assert some(5) == some(5)
    assert some(5) != some(5, seed=8)


def test_few_patients_already_meet_every_way_of_leaving_and_every_construct() -> None:
    met = some(24)
    assert {one.leaving for one in met} == set(LEAVING)
    assert {one.construct_type for one in met} == set(CONSTRUCTS)
    hooked = {one.about_removal for one in met if one.construct_type == "HP"}
    assert hooked == set(ABOUT_REMOVAL)


def test_whatever_happens_comes_after_the_operation() -> None:
    for one in some(200):
        later = (one.leaves_day, one.back_day, one.new_phone_day, one.revised_day)
        assert 1 <= one.operated_day <= 365
        assert all(day is None or day > one.operated_day for day in later)
        assert (one.leaves_day is None) == (one.leaving == "")


def test_a_year_of_a_few_days_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 28 days; got 5"):
        habits(seed=1, number=1, days=5)
