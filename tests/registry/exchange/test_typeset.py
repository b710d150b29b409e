from datetime import UTC, datetime

import pytest

from registry.exchange import typeset

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
# Tagged pages need a title and a language.
HEAD = '#set document(title: "A test")\n#set text(font: "Libertinus Serif", lang: "en")\n'


def files(text: str) -> dict[str, bytes]:
    return {"main.typ": (HEAD + text).encode()}


def test_the_same_in_gives_the_same_pages() -> None:
    one, two = (typeset.pdf_of(files("Held."), AT) for _ in range(2))
    assert one == two
    assert one.startswith(b"%PDF-")


def test_each_page_is_a_picture() -> None:
    pictures = typeset.pictures_of(files("One#pagebreak()Two"), AT, 40)
    assert [picture[:4] for picture in pictures] == [b"\x89PNG"] * 2
    assert len(typeset.pictures_of(files("One"), AT, 40)) == 1


def test_doubtful_pages_are_refused() -> None:
    doubtful = files('#set text(font: "No Such Font")\nHeld.')
    with pytest.raises(ValueError, match="font"):
        typeset.pdf_of(doubtful, AT)


def test_a_sign_that_no_font_has_is_refused() -> None:
    with pytest.raises(ValueError, match="could not be displayed"):
        typeset.pdf_of(files("\N{GRINNING FACE}"), AT)
