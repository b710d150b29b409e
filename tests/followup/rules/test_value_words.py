"""Words of departments lead to our codes, and what is not known for certain leads to none."""

import pytest

from followup.rules import value_words
from followup.rules.case_columns.catalogue import BY_NAME, COLUMNS


@pytest.mark.parametrize(
    ("column", "word", "code"),
    [
        ("side", "Li.", "left"),
        ("side", "RECHTS", "right"),
        ("sex", "w", "female"),
        ("injury_kind", "Laterale Klavikulafraktur", "lateral_clavicle"),
        ("injury_kind", "ACJ", "ac_joint"),
        ("rockwood", "5", "V"),
        ("neer", "2b", "IIB"),
        ("f6w_union", "durchbaut", "united"),
        ("f12m_hardware", "in situ", "intact"),
        ("baseline_view", "a.p.", "ap"),
        ("complication_2_kind", "Wundinfekt", "infection_superficial"),
        ("diabetes", "ja", "yes"),
        ("smoking", "Raucher", "current"),
        ("side", "both", None),
        ("side", "", None),
        ("f6w_union", "maybe", None),
    ],
)
def test_words_of_the_trade(column: str, word: str, code: str | None) -> None:
    assert value_words.propose(BY_NAME[column], word) == code


def test_codes_of_the_service_are_found_by_code_or_by_their_whole_name() -> None:
    column = BY_NAME["construct_type"]
    names = {"LP+A1": "Locking plate, one anchor", "HP": "Hook plate"}
    for word in ("lp + a1", "Locking plate one anchor"):
        assert value_words.propose(column, word, list(names), names) == "LP+A1"
    assert value_words.propose(column, "plate", list(names), names) is None


def test_every_word_leads_to_one_code_of_its_columns() -> None:
    for key, codes in value_words.WORDS.items():
        columns = [one for one in COLUMNS if one.allowed and value_words.vocabulary(one) == key]
        assert columns or not key, key
        for column in columns:
            assert not key or set(codes) <= set(column.allowed), (key, column.name)
        words = [word for ways in codes.values() for word in ways.split("|")]
        assert not key or len(words) == len(set(words)), key


def test_words_that_hold_everywhere_lead_to_one_code_of_each_column() -> None:
    for column in COLUMNS:
        ways = [words for code, words in value_words.WORDS[""].items() if code in column.allowed]
        words = [word for some in ways for word in some.split("|")]
        assert len(words) == len(set(words)), column.name


def test_columns_of_all_visits_share_their_words() -> None:
    shared = {value_words.vocabulary(BY_NAME[f"f{time}_union"]) for time in ("6w", "24m")}
    assert shared == {"union"}
    assert value_words.vocabulary(BY_NAME["film_view"]) == "view"
    assert value_words.vocabulary(BY_NAME["injury_kind"]) == "injury_kind"
    assert value_words.vocabulary(BY_NAME["revision_construct_type"]) == "construct_type"


def test_ways_of_saying_that_nothing_is_known_are_known() -> None:
    assert value_words.is_missing("not done")
    assert not value_words.is_missing("left")
