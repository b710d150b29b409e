import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.requirements import ASKED, Present, Wanted, items, still_missing, words

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
