"""A small pack as pages: what is on them, and that the same makes the same."""

import hashlib
import io
from datetime import UTC, date, datetime

import pytest
from pypdf import PdfReader

from analytics.exchange import pack_pages
from analytics.figures.documents import Document, document
from analytics.figures.section_actions import ActionLine
from analytics.figures.section_actions import section as actions
from analytics.figures.section_outcomes import section
from analytics.figures.sections import About
from tests.analytics.figures.results import result

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
ABOUT = About("index procedures", date(2026, 11, 25))


def small(words: str = "Film both sides.") -> Document:
    held = section("held", "Did it hold?", result({"LP": (12, 6, 3), "HP": (15, 3, 0)}), ABOUT)
    line = ActionLine(words, "Quentin", AT.date(), AT.date(), "Open", is_open=True)
    return document(
        title="For the quality meeting",
        sites=["North Hospital"],
        cohort="index procedures",
        cutoff=ABOUT.cutoff,
        facts={"snapshot": "abc123"},
        sections=[actions([line], AT.date(), AT.date()), held],
    )


def read(content: bytes) -> tuple[int, str]:
    reader = PdfReader(io.BytesIO(content))
    text = "\n".join(page.extract_text() for page in reader.pages)
    return len(reader.pages), " ".join(text.split())


def test_every_page_has_number_cohort_and_cut_off_and_every_caption_is_there() -> None:
    made = small()
    pages, text = read(pack_pages.pdf_of(made, AT))
    assert 2 <= pages <= 4
    for page in range(1, pages + 1):
        assert f"{page} of {pages}" in text
    assert text.count("Index procedures; data up to 25 Nov 2026") == pages
    for one in made.sections:
        assert one.title in text
        for captioned in (*one.tables, *one.figures):
            # Lines may be broken anywhere but inside a word's first letters.
            assert captioned.caption[:40] in text
    assert "nan" not in text.lower().replace("finance", "")
    assert "Wilson, J Am Stat Assoc 1927;22:209" in text


def test_the_same_document_at_the_same_moment_gives_the_same_bytes() -> None:
    one, two = (hashlib.sha256(pack_pages.pdf_of(small(), AT)).hexdigest() for _ in range(2))
    assert one == two


def test_words_are_words_and_no_code() -> None:
    _, text = read(pack_pages.pdf_of(small('#read("/etc/passwd") *not bold* $x$'), AT))
    assert '#read("/etc/passwd") *not bold* $x$' in text


def test_each_page_can_be_looked_at() -> None:
    pictures = pack_pages.pictures_of(small(), AT, 40)
    assert len(pictures) == read(pack_pages.pdf_of(small(), AT))[0]
    assert all(one.startswith(b"\x89PNG") for one in pictures)


def test_letters_of_other_languages_are_in_the_fonts() -> None:
    _, text = read(pack_pages.pdf_of(small("Zoë, Łukasz, Ångström, Đorđe, ≥ 25 %"), AT))
    assert "Zoë, Łukasz, Ångström, Đorđe, ≥ 25 %" in text


def test_a_page_that_is_doubtful_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    template = pack_pages.TEMPLATE.read_text().replace("Libertinus Serif", "No Such Font")

    class Doubtful:
        @staticmethod
        def read_bytes() -> bytes:
            return template.encode()

    monkeypatch.setattr(pack_pages, "TEMPLATE", Doubtful)
    with pytest.raises(ValueError, match="no such font"):
        pack_pages.pdf_of(small(), AT)
