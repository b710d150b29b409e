"""HIBC labels: check characters, every form of date, and what is written is read back."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import hibc_labels
from registry.rules.hibc_labels import check_character
from registry.rules.labels import LabelRefused
from tests.registry.rules.label_vectors import HIBC_DATA, TODAY

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
PLAIN = LETTERS + "0123456789"
ARTICLES = st.tuples(
    st.sampled_from(LETTERS),
    st.text(PLAIN, min_size=3, max_size=3),
    st.text(PLAIN, min_size=1, max_size=18),
    st.sampled_from("0123456789"),
).map("".join)
WORDS = st.text(PLAIN, min_size=1, max_size=18)
DAYS = st.dates(date(1977, 1, 1), date(2076, 12, 31))


def whole(body: str) -> str:
    return body + check_character(body)


def secondary(data: str, link: str) -> str:
    return whole(f"+{data}{link}")


@pytest.mark.parametrize(
    ("text", "sign", "source"),
    [
        ("+A123BJC5D6E71", "G", "ANSI/HIBC 2.6, appendix B: 145 modulo 43 is 16"),
        ("+A1234BJC5D6E71", "K", "published check character: 149 modulo 43 is 20"),
        ("+A999PLATE1230", "B", "own: 183 modulo 43 is 11"),
        ("+A999PLATE1230/$$3270131LOT42A", "L", "own: 408 modulo 43 is 21"),
        ("+$$52001510X3G", "D", "ANSI/HIBC 2.6, appendix E1.3"),
        ("+A99912345/$$52001510X3", "3", "ANSI/HIBC 2.6, 2.2.1.1"),
    ],
)
def test_the_check_character_is_the_sum_modulo_43(text: str, sign: str, source: str) -> None:
    assert check_character(text) == sign, source


def test_an_odd_character_is_named() -> None:
    with pytest.raises(LabelRefused, match="'#' cannot stand"):
        check_character("+A#")
    with pytest.raises(LabelRefused, match="'ß' cannot stand"):
        hibc_labels.read("+A999ß1", today=TODAY)


@pytest.mark.parametrize(("data", "said"), HIBC_DATA)
def test_each_form_of_production_data_is_read(data: str, said: dict[str, Any]) -> None:
    alone = hibc_labels.read(secondary(data, "B"), today=TODAY)
    assert {name: getattr(alone, name) for name in said} == said
    assert (alone.link, alone.device_identifier) == ("B", "")
    behind = hibc_labels.read(whole(f"+A999PLATE1230/{data}"), today=TODAY)
    assert {name: getattr(behind, name) for name in said} == said
    assert (behind.link, behind.device_identifier) == ("", "A999PLATE1230")


@given(ARTICLES, DAYS, WORDS, WORDS)
def test_what_is_written_is_read_back(article: str, day: date, batch: str, serial: str) -> None:
    text = whole(f"+{article}/$$3{day:%y%m%d}{batch}/S{serial}/16D{day:%Y%m%d}")
    label = hibc_labels.read(text, today=TODAY)
    assert label.device_identifier == article
    assert (label.batch, label.serial) == (batch, serial)
    assert label.expires_on == label.made_on == day
    assert label.is_certain
    assert hibc_labels.read(whole(f"+{article}"), today=TODAY).device_identifier == article


@given(ARTICLES, st.sampled_from(PLAIN), st.integers(0, 20))
def test_one_changed_character_is_never_certain(article: str, wrong: str, place: int) -> None:
    text = whole(f"+{article}")
    at = 1 + place % (len(text) - 1)
    if text[at] == wrong:
        return
    try:
        label = hibc_labels.read(text[:at] + wrong + text[at + 1 :], today=TODAY)
    except LabelRefused:
        return
    assert not label.is_certain


def test_a_check_character_that_is_a_space_may_be_lost() -> None:
    body = next(
        text for n in range(10_000) if check_character(text := f"+A999PLATE{n:04d}0") == " "
    )
    lost, there = (hibc_labels.read(text, today=TODAY) for text in (body, f"{body} "))
    assert lost.device_identifier == there.device_identifier == body[1:]
    assert there.is_certain
    assert not lost.is_certain


def test_small_letters_are_read_as_capitals_and_told_of() -> None:
    label = hibc_labels.read("+a123bjc5d6e71g", today=TODAY)
    assert label.device_identifier == "A123BJC5D6E71"
    assert "Caps Lock" in label.notes[0]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("+A99", "no HIBC article"),
        ("+A999PLATE1230/?", "cannot stand"),
        ("+A999PLATE1230/-", "nothing that an HIBC label may say"),
        ("+A999PLATE1230/$$3270229LOT", "does not exist"),
        ("+A999PLATE1230/$$5270LOT", "should have 5 digits"),
        ("+A999PLATE1230/$$527366", "day 366 of 2027"),
        ("+A999PLATE1230/$$8X", "quantity of 2 digits"),
        ("+A999PLATE1230/$$X", "no form of date"),
        ("+A999PLATE1230/16D2027", "8 digits"),
        ("+A999PLATE1230/$" + "L" * 19, "at most 18"),
        ("+A999PLATE1230/$LOT1/S1/S2", "two things"),
        ("+$", "too short"),
    ],
)
def test_what_no_form_knows_is_refused(body: str, words: str) -> None:
    with pytest.raises(LabelRefused, match=words):
        hibc_labels.read(body if "?" in body else whole(body), today=TODAY)


def test_further_data_are_kept_by_their_identifier() -> None:
    label = hibc_labels.read(whole("+A999PLATE1230/$LOT1/14D20270131/Q4/9NX7"), today=TODAY)
    assert label.expires_on == date(2027, 1, 31)
    assert label.quantity == 4
    assert label.others == (("9N", "X7"),)
