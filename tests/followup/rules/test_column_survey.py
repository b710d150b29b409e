"""A survey keeps what tells columns apart, and a bounded part of any file."""

import pytest

from followup.rules import column_survey
from followup.rules.column_survey import MOST_WORDS, Held


def held(*values: str) -> Held:
    found = Held()
    for value in values:
        found.note(value)
    return found


def test_different_values_are_counted_without_stray_spaces() -> None:
    found = held(" left", "left ", "right", "", "   ")
    assert (found.filled, found.words) == (3, {"left": 2, "right": 1})


def test_a_column_of_very_many_words_keeps_a_few_of_them() -> None:
    found = held(*(f"word {n}" for n in range(10_000)))
    assert found.many
    assert found.examples == ("word 0", "word 1", "word 2", "word 3", "word 4")
    assert len(held(*(str(n) for n in range(MOST_WORDS))).words) == MOST_WORDS


def test_a_long_text_is_kept_by_its_beginning() -> None:
    (word,) = held("x" * 5_000).words
    assert len(word) == column_survey.LONGEST_WORD
    assert held("x" * 5_000).examples == ("x" * 60,)
    # As it stands there, for who has to say what it means.
    assert list(held("Plate With Anchors " * 5).words) == [("Plate With Anchors " * 5).strip()]


@pytest.mark.parametrize(
    "word",
    ["LI", " li\u200b ", "x" * 61, "\xdf" * 31, "\xdf" * 60, "Stra\xdfe " * 30, "\u0130" * 60],
)
def test_a_word_has_one_key_that_fits_and_that_what_is_kept_of_it_has_as_well(word: str) -> None:
    (kept,) = held(word).words
    key = column_survey.word_key(word)
    assert len(key) <= column_survey.LONGEST_KEY
    assert column_survey.word_key(kept) == column_survey.word_key(key) == key
    assert column_survey.word_key(word.upper()) == column_survey.word_key(word.casefold())


def test_long_words_that_begin_alike_are_told_apart() -> None:
    assert len(held("x" * 80 + "left", "x" * 80 + "right").words) == 2


def test_numbers_are_told_by_their_decimal_sign() -> None:
    numbers = held("7", "7,5", "8.25", "12,345", "soon").numbers
    assert (numbers.whole, numbers.comma, numbers.point) == (1, 2, 1)
    assert numbers.unclear == "12,345"
    assert held("7", "8", "x", "y").number_share == 0.5


def test_dates_are_told_from_other_values() -> None:
    assert held("05.03.2024", "soon").date_share == 0.5
    assert held().date_share == held().number_share == 0.0


def test_cells_beyond_the_header_belong_to_no_column() -> None:
    survey = column_survey.survey_of(2)
    column_survey.note_row(survey, ["1", "2", "3"])
    column_survey.note_row(survey, ["1"])
    assert [one.filled for one in survey] == [2, 1]


def test_a_survey_is_kept_as_plain_values_and_comes_back_the_same() -> None:
    survey = column_survey.survey_of(2)
    column_survey.note_row(survey, ["25.03.24", "12,345"])
    assert column_survey.from_plain(column_survey.to_plain(survey)) == survey
