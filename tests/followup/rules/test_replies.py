"""Whose number an answer came from, and whether it ends the messages."""

import pytest

from followup.rules.replies import STOP_WORDS, checked_words, dialled, first_line, is_stop


@pytest.mark.parametrize("text", ["STOP", "stop", " Stop. ", "STOPP!", "'stop'", "stop\n"])
def test_a_word_that_ends_messages_does_so_however_it_is_written(text: str) -> None:
    assert is_stop(text, STOP_WORDS)


@pytest.mark.parametrize(
    "text",
    ["please do not stop", "stop it hurts", "I cannot stop by on Tuesday", "", "?", "ja", "STOPS"],
)
def test_a_sentence_is_for_a_person_to_read(text: str) -> None:
    assert not is_stop(text, STOP_WORDS)


def test_a_site_has_words_of_its_own() -> None:
    assert is_stop("Keine SMS mehr!", ["keine sms mehr"])
    assert not is_stop("stop", ["keine sms mehr"])
    assert not is_stop("!!!", ["", "..."])


def test_the_words_are_kept_small_and_once() -> None:
    assert checked_words(["STOP", "stop ", "", "Stopp!"]) == ("stop", "stopp")
    with pytest.raises(ValueError, match="is no word"):
        checked_words(["..."])
    with pytest.raises(ValueError, match="at most 20 words"):
        checked_words([f"w{n}" for n in range(21)])


def test_an_email_says_what_its_first_line_says() -> None:
    assert first_line("\n  STOP \n\n> your visit is on Tuesday\nSent from a phone") == "STOP"
    assert first_line("> only a quotation") == ""


@pytest.mark.parametrize(
    ("number", "digits"),
    [
        ("+44 555 010 200", "44555010200"),
        ("0044 555 010200", "44555010200"),
        ("0555 010-200", "44555010200"),
        ("+44 (0) 555 010200", "44555010200"),
        ("555 010 200", "44555010200"),
        ("+49 555 010 200", "49555010200"),
        ("12345", ""),
        ("no number", ""),
        ("", ""),
    ],
)
def test_one_number_is_one_number_however_it_is_written(number: str, digits: str) -> None:
    assert dialled(number, "44") == digits


def test_without_a_country_code_nothing_is_guessed() -> None:
    assert dialled("0555 010 200", "") == "0555010200" == dialled("0555-010200", "")
    assert dialled("+44 555 010 200", "") != dialled("0555 010 200", "")
