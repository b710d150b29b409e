import io
from datetime import UTC, date, datetime

import pytest
from pypdf import PdfReader

from followup.exchange.letter_pages import LetterPages, pdf_of, pictures_of

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def letter(body: str, addressee: str = "Dr Invented\n1 Old Square") -> LetterPages:
    return LetterPages(
        title="6 months: letter to the referring doctor",
        site="North Hospital",
        on=date(2026, 11, 25),
        head=["Quill, Ada, born 17 May 1980"],
        addressee=addressee,
        body=body,
        foot="Draft, not sent. North Hospital",
    )


def read(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def test_all_words_stand_on_the_pages_in_their_order() -> None:
    text = read(pdf_of(letter("Dear colleague,\n\nMotion:\n- left 140\n- right 170\n\nBye"), AT))
    words = ("North Hospital", "Dr Invented", "1 Old Square", "25 November 2026", "Quill, Ada")
    places = [
        text.index(part) for part in (*words, "Dear colleague", "left 140", "right 170", "Bye")
    ]
    assert places == sorted(places)
    assert "Draft, not sent." in text


def test_what_was_typed_is_text_and_never_code() -> None:
    told = '#read("/etc/passwd") *not bold* $x$ Zoë, Łukasz, ≥ 25 %'
    assert told in read(pdf_of(letter(told), AT))


def test_a_long_letter_runs_over_to_a_second_page() -> None:
    long = "\n\n".join(f"Paragraph {n}: " + "words " * 40 for n in range(40))
    assert len(pictures_of(letter(long), AT, 30)) > 1


def test_the_same_letter_and_moment_give_the_same_bytes() -> None:
    assert pdf_of(letter("Held."), AT) == pdf_of(letter("Held."), AT)


@pytest.mark.parametrize("body", ["- only a list", "Title:\n- one", "a\nb\n\n\n\nc"])
def test_lists_titles_and_lines_keep_their_words(body: str) -> None:
    text = read(pdf_of(letter(body, addressee=""), AT))
    for line in body.split("\n"):
        assert line.removeprefix("- ") in text
