import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.requirements import (
    ASKED,
    Present,
    Wanted,
    items,
    listed,
    still_missing,
    wanted_of,
    words,
)
from followup.rules.steps import StepFacts

SIX_WEEKS = Wanted(
    film_views=("zanca", "ap"),
    motion=True,
    scores=("pain_nrs", "quickdash"),
    wound_check=True,
    complication_screen=True,
)
ALL = (
    "film:zanca",
    "film:ap",
    "motion",
    "wound_check",
    "complication_screen",
    "score:pain_nrs",
    "score:quickdash",
)


def test_a_step_asks_for_one_item_of_each_kind() -> None:
    assert items(SIX_WEEKS) == ALL
    assert items(Wanted()) == ()


def test_before_anything_is_there_everything_is_missing() -> None:
    assert still_missing(SIX_WEEKS, Present(), {}) == ALL


def test_what_is_there_is_not_missing() -> None:
    present = Present(
        film_views=frozenset({"zanca", "axillary"}), motion=True, scores=frozenset({"pain_nrs"})
    )
    assert still_missing(SIX_WEEKS, present, {}) == (
        "film:ap",
        "wound_check",
        "complication_screen",
        "score:quickdash",
    )


def test_a_film_of_another_view_does_not_count() -> None:
    present = Present(film_views=frozenset({"axillary"}))
    assert still_missing(Wanted(film_views=("zanca",)), present, {}) == ("film:zanca",)


def test_a_film_of_one_side_is_not_one_of_the_other() -> None:
    wanted = Wanted(film_views=("zanca",), other_side_views=("zanca", "ap"))
    present = Present(film_views=frozenset({"zanca", "ap"}))
    assert still_missing(wanted, present, {}) == ("film_other:zanca", "film_other:ap")
    both = Present(frozenset({"zanca"}), other_side_views=frozenset({"zanca"}))
    assert still_missing(wanted, both, {"film_other:ap": "pregnant"}) == ()


def test_a_film_that_cannot_be_had_cannot_show_the_other_side() -> None:
    wanted = Wanted(film_views=("zanca",), other_side_views=("zanca",))
    assert still_missing(wanted, Present(), {"film:zanca": "pregnant"}) == ()
    missing = still_missing(wanted, Present(), {"film_other:zanca": "injured before"})
    assert missing == ("film:zanca",)


def test_an_item_of_the_services_own_is_there_when_it_was_asked() -> None:
    wanted = Wanted(free_items={"sling": "sling worn", "work": "back at work"})
    present = Present(asked=frozenset({"free:sling"}))
    assert still_missing(wanted, present, {}) == ("free:work",)
    assert still_missing(wanted, present, {"free:work": "not employed"}) == ()
    assert words("free:work", wanted.free_items) == "back at work"


def test_a_step_says_which_side_each_view_shows() -> None:
    step = StepFacts(
        "6w",
        "6 weeks",
        6,
        "weeks",
        7,
        7,
        film_views=("zanca", "ap", "chest"),
        film_sides={"zanca": "both", "chest": "other"},
        free_items=[{"code": "sling", "words": "sling worn"}],
    )
    wanted = wanted_of(step)
    assert wanted.film_views == ("zanca", "ap")
    assert wanted.other_side_views == ("zanca", "chest")
    assert items(wanted)[-1] == "free:sling"


def test_a_film_wanted_of_both_sides_is_said_once() -> None:
    keys = ("film:zanca", "film:ap", "film_other:zanca", "film_other:chest", "free:x")
    assert listed(keys, {"x": "sling worn"}) == [
        "Zanca film of both sides",
        "AP film",
        "Chest film of the other side",
        "sling worn",
    ]


def test_a_visit_screens_for_harm_and_looks_at_the_wound() -> None:
    wanted = Wanted(wound_check=True, complication_screen=True)
    assert still_missing(wanted, Present(asked=frozenset(ASKED)), {}) == ()


def test_not_obtainable_with_a_reason_completes_and_without_one_does_not() -> None:
    wanted = Wanted(film_views=("zanca",), motion=True)
    reasons = {"film:zanca": "pregnant", "motion": "  "}
    assert still_missing(wanted, Present(), reasons) == ("motion",)


@given(
    views=st.sets(st.sampled_from(["ap", "zanca", "axillary"])),
    scores=st.sets(st.sampled_from(["pain_nrs", "quickdash", "sane"])),
    reasons=st.dictionaries(st.sampled_from(ALL), st.sampled_from(["", " ", "declined"])),
    motion=st.booleans(),
    asked=st.sets(st.sampled_from(ASKED)),
)
def test_an_item_is_missing_when_it_is_neither_there_nor_excused(
    views: set[str], scores: set[str], reasons: dict[str, str], asked: set[str], *, motion: bool
) -> None:
    there = {f"film:{view}" for view in views} | {f"score:{code}" for code in scores}
    there |= {"motion"} if motion else set()
    there |= asked
    excused = {item for item, reason in reasons.items() if reason.strip()}
    present = Present(frozenset(views), motion, frozenset(scores), frozenset(asked))
    assert set(still_missing(SIX_WEEKS, present, reasons)) == set(ALL) - there - excused


@pytest.mark.parametrize(
    ("item", "said"),
    [
        ("film:ap", "AP film"),
        ("film:zanca", "Zanca film"),
        ("film_other:ap", "AP film of the other side"),
        ("free:sling-worn", "sling worn"),
        ("score:pain_nrs", "pain score"),
        ("score:quickdash", "QuickDASH"),
        ("score:grip_strength", "grip strength"),
        ("motion", "motion"),
        ("wound_check", "wound check"),
        ("complication_screen", "complications asked for"),
    ],
)
def test_an_item_is_said_in_words(item: str, said: str) -> None:
    assert words(item) == said
