from io import BytesIO
from typing import Any

from pypdf import PdfReader

from followup.exchange.evidence_pages import EvidencePages, Grid, pdf_of
from tests.builders import NOW


def pages(**changes: Any) -> EvidencePages:
    given: dict[str, Any] = {
        "title": "FSN-1: what was done about it",
        "head": ["Recall, received on 1 November 2026"],
        "about": ["device identifier 09506000134352, batch LOT42A"],
        "advice": "Tell the patient.\nTake a film: #sym.",
        "sums": Grid(["Site", "Carry it"], [["North", "2"]]),
        "agrees": "The difference is 0.",
        "steps": Grid(
            ["Patient", "Operated", "Why", "State", "Steps"], [["A1", "x", "y", "z", "w"]]
        ),
        "foot": "Printed by Connie",
        **changes,
    }
    return EvidencePages(**given)


def text_of(content: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)


def test_the_pages_say_what_was_done_and_no_word_is_taken_for_code() -> None:
    text = text_of(pdf_of(pages(), NOW))
    for words in ("what was done about it", "LOT42A", "#sym.", "difference is 0", "Connie"):
        assert words in text


def test_the_same_evidence_gives_the_same_bytes_and_many_rows_more_pages() -> None:
    assert pdf_of(pages(), NOW) == pdf_of(pages(), NOW)
    rows = [[f"P{n}", "5 Jun 2026, left", "batch", "reviewed", "found; reached"] for n in range(80)]
    content = pdf_of(pages(steps=Grid(pages().steps.head, rows)), NOW)
    assert len(PdfReader(BytesIO(content)).pages) > 1
    assert "P79" in text_of(content)
