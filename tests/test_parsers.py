"""Whatever reads what others wrote: it answers, or refuses in words; it never fails in another way.

Each reader stands here with a fuzz of its own, or with the file of tests that has one. Texts are drawn from
nothing, and by spoiling ones that are right.
"""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analytics.rules import figure_addresses
from analytics.selectors import cohorts
from config import env
from config.copies import manifest
from followup.rules import (
    column_proposal,
    image_boxes,
    image_files,
    message_texts,
    replies,
    wordings,
)
from registry.errors import BadInput, HoldfastError
from registry.exchange import mllp
from registry.rules import addresses, browsers, dates, hl7_said, missing, typed_numbers
from registry.rules.fhir import moments, queries
from registry.rules.hl7_text import Segments
from registry.rules.labels import LabelRefused

ROOT = Path(__file__).resolve().parents[1]
LONDON = ZoneInfo("Europe/London")
MESSAGE = (
    "MSH|^~\\&|PAS|HOSP|HF|HOSP|202611250900||SIU^S12|77|P|2.5\rSCH|1^A||||||||||"
    "^^^202612010900^202612010910\rPID|1||909090^^^HOSP||Quill^Ada||19620419|F\r"
    "AIL|1||SHO^Shoulder"
)
FORM = wordings.ItemForm(numbers=(1, 2), low=0, high=2)
PASTED = "1. First\nno\na little\nmuch\n2. Second\nno\na little\nmuch"

# Readers that have their fuzz elsewhere: the module, and the tests that hold it.
ELSEWHERE = {
    "registry/rules/udi.py": "tests/registry/rules/test_udi.py",
    "registry/rules/gs1_labels.py": "tests/registry/rules/test_gs1_labels.py",
    "registry/rules/hibc_labels.py": "tests/registry/rules/test_hibc_labels.py",
    "registry/rules/tissue_labels.py": "tests/registry/rules/test_udi.py",
    "registry/rules/scan_list.py": "tests/registry/rules/test_scan_list.py",
    "registry/rules/batches.py": "tests/registry/rules/test_batches.py",
    "registry/rules/hl7_text.py": "tests/registry/rules/test_hl7_text.py",
    "registry/rules/date_styles.py": "tests/registry/rules/test_date_styles.py",
    "registry/exchange/sheets.py": "tests/registry/exchange/test_sheets.py",
    "registry/exchange/sheet_books.py": "tests/registry/exchange/test_sheets.py",
    "registry/exchange/archive_rows.py": "tests/registry/exchange/test_archive_rows.py",
    "followup/rules/case_rows.py": "tests/followup/rules/test_case_rows.py",
    "followup/exchange/image_examiner.py": "tests/followup/exchange/test_image_fuzz.py",
    "followup/rules/landmarks.py": "tests/followup/rules/test_landmarks.py",
    "config/signed_cache.py": "tests/config/test_signed_cache.py",
    # Requests of programs, by the schema: bodies, parameters and bundles alike.
    "registry/api/urls.py": "tests/config/test_api_fuzz.py",
}


def rule(text: str) -> object:
    """Read an address of a figure as pages do."""
    parts = (text.split("=", 1) for text in text.split("&") if "=" in text)
    return cohorts.rule_from(dict(parts))  # type: ignore[arg-type]


def search(text: str) -> object:
    known = {"name": "string", "birthdate": "date", "subject": "reference", "_id": "token"}
    pairs = [tuple(one.split("=", 1)) for one in text.split("&") if "=" in one]
    return queries.parse(pairs, known)  # type: ignore[arg-type]


def database(text: str) -> object:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(env, "text", lambda name, default="": text)
        return env.database("HOLDFAST_DATABASE", "")


# A reader, and texts that it takes.
READERS: dict[str, tuple[Callable[[str], object], tuple[str, ...]]] = {
    "a date": (dates.parse, ("2026-11-25", "2026-11", "2026", "25/11/2026")),
    "a whole date": (
        lambda text: dates.parse_exact(text, day_first=True),
        ("2026-11-25", "25.11.2026"),
    ),
    "a whole number": (typed_numbers.whole_number, ("17", " 4 ", "-3")),
    "why something lacks": (missing.kind_of, ("unknown", "not done", "n/a")),
    "an address passed on": (
        lambda text: addresses.client_address(passed=text, remote="10.0.0.1", proxies=1),
        ("203.0.113.9, 10.0.0.1", "[2001:db8::1]:443"),
    ),
    "a neighbourhood": (addresses.neighbourhood, ("203.0.113.9", "2001:db8::1")),
    "a browser": (browsers.browser_in_words, ("Mozilla/5.0 (X11; Linux) Firefox/130.0",)),
    "a moment of HL7": (
        lambda text: hl7_said.parse_moment(text, LONDON),
        ("202611250900", "20261125090001.123+0100", "2026"),
    ),
    "what HL7 says": (lambda text: hl7_said.read(Segments(text), LONDON), (MESSAGE,)),
    "a date of FHIR": (moments.read, ("2026-11-25", "2026-11-25T09:00:00Z", "2026")),
    "an instant of FHIR": (moments.read_moment, ("2026-11-25T09:00:00.5+01:00",)),
    "a date of a search": (
        lambda text: moments.about(moments.asked(text), datetime(2026, 11, 30, tzinfo=UTC)),
        ("ge2026-11-25", "ap2026", "2026-11-25T09:00:00Z"),
    ),
    "a search": (
        search,
        ("name=quill&birthdate=ge1962", "subject:Patient=AB,CD&_count=5", "_id=1"),
    ),
    "a token": (queries.token, ("system|code", "|code", "code")),
    "a stop": (lambda text: replies.is_stop(text, ("STOP", "ENDE")), ("Stop.", "ende")),
    "a first line": (replies.first_line, ("yes\nthank you",)),
    "a telephone number": (
        lambda text: replies.dialled(text, "44"),
        ("+44 (0)555 310 031", "0044555310031"),
    ),
    "words of a message": (
        lambda text: message_texts.faults_of("appointment_booked", "short", "", text),
        ("At {site} on {day}: {time}",),
    ),
    "boxes on a film": (image_boxes.boxes_of, ("1 2 30 40\n2, 1, 2, 30, 40",)),
    "pasted items": (lambda text: wordings.parse(text, FORM), (PASTED,)),
    "a column's name": (column_proposal.tokens, ("Date of operation (dd.mm.yyyy)", "OP-Datum")),
    "a figure's address": (
        figure_addresses.is_figure,
        ("https://registry.example/outcomes/?by=site", "/harms/"),
    ),
    "a figure's query": (
        rule,
        ("endpoint=union&horizon=6w", "by=surgeon&surgeon=3&from=2026-01-01"),
    ),
    "a network": (lambda text: mllp.networks([text]), ("10.0.0.0/8", "::1")),
    "the database's address": (database, ("postgresql://a:b@c:5432/d?sslmode=require",)),
}
READS_BYTES: dict[str, tuple[Callable[[bytes], object], tuple[bytes, ...]]] = {
    "a film's kind": (
        image_files.kind_of,
        (b"\0" * 128 + b"DICM", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"),
    ),
    "a copy's manifest": (
        manifest.from_json,
        (json.dumps({"kind": manifest.KIND, "version": manifest.VERSION, "tables": {}}).encode(),),
    ),
}
# These say yes or no, or make something of whatever there is.
ALWAYS_ANSWER = {
    *("a whole number", "why something lacks", "an address passed on"),
    *("a browser", "a moment of HL7", "a token", "a stop", "a first line", "a telephone number"),
    *("words of a message", "a column's name", "a figure's address"),
}
FUZZ = settings(max_examples=150, suppress_health_check=list(HealthCheck))
# What is refused in words; anything else, and these from inside the language, is a fault of ours.
REFUSALS = (ValueError, HoldfastError, LabelRefused, BadInput)
FAULTS = (UnicodeError, json.JSONDecodeError)


@st.composite
def spoilt(draw: st.DrawFn, right: tuple[Any, ...], anything: st.SearchStrategy[Any]) -> Any:
    """Draw anything, or something right in which a piece was left out, put in or doubled."""
    if draw(st.booleans()):
        return draw(anything)
    text = draw(st.sampled_from(right))
    first = draw(st.integers(0, len(text)))
    last = draw(st.integers(first, min(len(text), first + 6)))
    between = draw(st.one_of(st.just(text[:0]), st.just(text[first:last] * 3), anything))
    return text[:first] + between + text[last:]


def answers_or_refuses(read: Callable[[Any], object], written: Any, *, refuses: bool) -> None:
    fault: Exception | None = None
    try:
        read(written)
    except REFUSALS as found:
        fault = found
    assert fault is None or refuses, f"{written!r}: {fault!r}"
    assert not isinstance(fault, FAULTS), f"{written!r}: {fault!r}"
    assert fault is None or str(fault), f"{written!r} is refused without a word"


@pytest.mark.parametrize("name", READERS)
def test_a_reader_of_text_answers_or_refuses_in_words(name: str) -> None:
    read, right = READERS[name]
    refuses = name not in ALWAYS_ANSWER
    for text in right:
        answers_or_refuses(read, text, refuses=refuses)

    @FUZZ
    @given(spoilt(right, st.text(max_size=40)))
    def fuzz(written: str) -> None:
        answers_or_refuses(read, written, refuses=refuses)

    fuzz()


@pytest.mark.parametrize("name", READS_BYTES)
def test_a_reader_of_bytes_answers_or_refuses_in_words(name: str) -> None:
    read, right = READS_BYTES[name]

    @FUZZ
    @given(spoilt(right, st.binary(max_size=60)))
    def fuzz(written: bytes) -> None:
        answers_or_refuses(read, written, refuses=True)

    fuzz()


def test_each_reader_that_is_named_has_its_fuzz() -> None:
    for module, tests in ELSEWHERE.items():
        assert (ROOT / module).is_file(), module
        text = (ROOT / tests).read_text()
        assert any(word in text for word in ("@given", "fuzz", "schemathesis")), tests


def test_what_is_right_is_read() -> None:
    assert dates.parse("2026-11").earliest == date(2026, 11, 1)
    assert hl7_said.read(Segments(MESSAGE), LONDON) is not None
    assert len(wordings.parse(PASTED, FORM)) == 2
    assert len(image_boxes.boxes_of("1 2 30 40\n2, 1, 2, 30, 40")) == 2
