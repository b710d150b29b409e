import pytest

from analytics.selectors.pack_facts import facts_of
from tests.analytics.records import calls_its_own, held
from tests.analytics.selectors.test_pack_sections import asked

pytestmark = pytest.mark.usefixtures("defaults")


def test_what_made_a_pack_is_said_in_words_and_not_in_codes() -> None:
    held()
    facts = facts_of(asked(horizon="6m").view())
    assert facts["Question"] == "Loss of reduction"
    assert facts["Definition"].startswith(
        "CC distance more than 3 mm above the first film (version"
    )
    assert facts["Horizon"] == "6 months"
    assert facts["Data up to"] == "25 Nov 2026"
    assert not any("_" in words for pair in facts.items() for words in pair)


def test_outside_no_count_is_told() -> None:
    held()
    assert "Left out" in facts_of(asked().view())
    assert "Left out" not in facts_of(asked().view(), outside=True)


def test_where_none_was_chosen_it_says_so() -> None:
    calls_its_own("south")
    facts = facts_of(asked().view())
    assert facts["Definition"] == "none chosen"
    assert "No primary definition is chosen" in facts["Chosen"]
