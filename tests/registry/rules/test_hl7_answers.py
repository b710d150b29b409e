"""Answers to messages: honest, and without anything of a patient."""

from datetime import UTC, datetime

import hl7
import pytest

from registry.rules import hl7_answers
from tests import hospital

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def answered(content: bytes, code: str, why: str = "") -> hl7.Message:
    asked = hl7_answers.asked_by(content)
    text = hl7_answers.answer(asked, code, why=why, now=NOW, name="A1").decode()
    assert text.endswith("\r")
    return hl7.parse(text)


def test_an_answer_goes_back_to_the_sender_and_names_the_message() -> None:
    found = answered(hospital.adt("A08", "7", control_id="M77"), "AA")
    assert str(found["MSH"][0][5]) == "PAS"
    assert str(found["MSH"][0][3]) == "REGISTRY"
    assert str(found["MSH"][0][9]) == "ACK^A08^ACK"
    assert (found["MSA.1"], found["MSA.2"]) == ("AA", "M77")
    with pytest.raises(KeyError):
        found.segments("ERR")


def test_a_refusal_says_why_in_words_that_cannot_break_the_answer() -> None:
    found = answered(hospital.adt("A08", "7"), "AE", why="a|b^c&d~e\\f\rPID|1")
    assert found["ERR.8"] == "a|b^c&d~e\\f PID|1"
    assert len(found) == 3


@pytest.mark.parametrize("content", [b"", b"MSH", b"PID|1||7", b"\xff\xfe", b"MSH|^~\\&|"])
def test_what_has_no_header_is_answered_all_the_same(content: bytes) -> None:
    assert answered(content, "AE", why="no header")["MSA.1"] == "AE"


def test_nothing_of_the_message_but_its_header_is_in_the_answer() -> None:
    asked = hl7_answers.asked_by(hospital.adt("A08", "4711", family="Secretname"))
    text = hl7_answers.answer(asked, "AE", why="x", now=NOW, name="A1")
    assert b"Secretname" not in text
    assert b"4711" not in text
