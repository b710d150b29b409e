"""Accented words tell which 8-bit encoding wrote them, or that nobody but a person can tell."""

import pytest

from registry.rules import encodings


def plausible(*words: str, written: str) -> dict[str, tuple[str, ...]]:
    found = encodings.previews([word.encode(written) for word in words])
    return {one.encoding: one.words for one in found if one.plausible}


@pytest.mark.parametrize("word", ["M\u00fcller", "Stra\u00dfe", "\u00c9mile"])
def test_western_european_words_are_told_from_all_others(word: str) -> None:
    assert plausible(word, written="cp1252") == {"cp1252": (word,)}


def test_words_of_another_machine_are_read_rightly_by_one_of_the_choices() -> None:
    found = plausible("M\u00fcller", "Ren\u00e9e", written="mac_roman")
    assert found["mac_roman"] == ("M\u00fcller", "Ren\u00e9e")


def test_what_two_encodings_read_as_words_is_left_to_a_person() -> None:
    found = plausible("H\u00e9l\u00e8ne", written="cp1252")
    assert found == {"cp1252": ("H\u00e9l\u00e8ne",), "cp1250": ("H\u00e9l\u010dne",)}


def test_encodings_that_read_alike_are_offered_once() -> None:
    found = encodings.previews(["Z\u00e4hler".encode("cp1252")])
    assert [one.encoding for one in found if one.words == ("Z\u00e4hler",)] == ["cp1252"]


def test_an_encoding_in_which_a_byte_means_nothing_is_left_out() -> None:
    assert "cp1252" not in {one.encoding for one in encodings.previews([b"a\x81b"])}


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("O\u2019Brien", True),
        ("110\u00b0", True),
        ("\u00c5NGSTR\u00d6M", True),
        ("Ren\u00c8", False),
        ("M\u00b8ller", False),
        ("M\u00b3ller", False),
    ],
)
def test_a_word_has_no_signs_or_capitals_within(word: str, says: bool) -> None:
    assert encodings.looks_like_a_word(word) is says


@pytest.mark.parametrize(
    ("lines", "sign"),
    [
        (["a;b;c", "1,5;2,5;3,5", "1,5;;"], ";"),
        (["a,b", "1,2"], ","),
        (["a|b|c", "x, y|z|1"], "|"),
        (["a\tb", "1,5\t2,5", "1\t2"], "\t"),
        (["Cases of the department, 2019", "a;b", "1;2", "3;4"], ";"),
        (["a,b", '"x;y;z",2', '"u;v;w",3', '"k;l;m",4'], ","),
    ],
)
def test_the_separator_is_what_occurs_equally_often(lines: list[str], sign: str) -> None:
    assert encodings.separator_of(lines, ",;\t|") == sign
