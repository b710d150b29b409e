"""The words of the trade lead to fields that exist, and no word leads to two."""

from collections import Counter

from followup.rules import column_proposal, column_words
from followup.rules.case_columns.catalogue import BY_NAME

# What stands for a whole name, or for the kind and the date of one thing, is told by its values.
TOLD_BY_VALUES = {("name",), ("operator",)}


def test_every_field_that_has_words_is_one_of_ours() -> None:
    names = set(column_words.phrases())
    assert names - {column_words.FAMILY_FIRST} <= set(BY_NAME)


def test_no_words_lead_to_two_fields() -> None:
    led = Counter(
        column_proposal.tokens(phrase)
        for name, ways in column_words.phrases().items()
        for phrase in {column_proposal.tokens(way): way for way in ways}.values()
    )
    twice = {words for words, times in led.items() if times > 1} - TOLD_BY_VALUES
    assert twice == set()


def test_every_visit_and_event_has_words_in_both_languages() -> None:
    ways = column_words.phrases()
    assert "12 monate datum" in ways["f12m_date"]
    assert "1 year quick dash" in ways["f12m_quickdash"]
    assert "komplikation 2" in ways["complication_2_kind"]
    assert "postop ccd" in ways["baseline_ccd_injured_mm"]
