"""The text of HL7 messages: character sets, escapes, files of many messages."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import hl7_text
from registry.rules.hl7_text import Segments, Unusable

SIGNS = ("|", "~", "^", "&", "\\")
HEADER = "MSH|^~\\&|PAS|HOSP|||20261125090000||ADT^A08^ADT_A01|M1|P|2.5.1||||||"


def test_escapes_say_what_separators_cannot() -> None:
    """Source: HL7 v2.5.1, chapter 2.7.1."""
    text = r"Plate \T\ suture \F\ left \S\ right"
    assert hl7_text.unescape(text, SIGNS) == "Plate & suture | left ^ right"
    assert hl7_text.unescape(r"\R\\E\\.br\x", SIGNS) == "~\\\nx"


def test_letters_in_hexadecimal_are_read_in_the_character_set_of_the_message() -> None:
    assert hl7_text.unescape(r"M\XC3BC\ller", SIGNS, "utf-8") == "Müller"
    assert hl7_text.unescape(r"M\XFC\ller", SIGNS, "iso8859-1") == "Müller"


def test_an_ampersand_of_a_tissue_code_goes_there_and_back() -> None:
    """Donation codes hold '&', which travels as an escape."""
    code = "=}013032&,1000000000000XYZ123"
    assert hl7_text.unescape(code.replace("&", r"\T\ ".strip()), SIGNS) == code


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("a\\b", "a\\b"),
        (r"\Q9\x", "x"),
        (r"\XZZ\x", "x"),
        (r"\.sp999999999\x", "\nx"),
        ("\\\\x", "x"),
    ],
)
def test_a_sequence_that_is_none_does_no_harm(text: str, meant: str) -> None:
    assert hl7_text.unescape(text, SIGNS) == meant


@given(st.text(alphabet="|~^&ab\\", max_size=20))
def test_what_is_escaped_is_read_as_it_was(text: str) -> None:
    codes = {"\\": "E", "|": "F", "~": "R", "^": "S", "&": "T"}
    escaped = "".join(f"\\{codes[letter]}\\" if letter in codes else letter for letter in text)
    assert hl7_text.unescape(escaped, SIGNS) == text


@pytest.mark.parametrize(
    ("named", "encoding"),
    [
        ("", "utf-8"),
        ("UNICODE UTF-8", "utf-8"),
        ("UNICODE", "utf-8"),
        ("8859/1", "latin-1"),
        ("8859/15", "iso8859-15"),
    ],
)
def test_a_message_is_read_in_the_character_set_that_it_names(named: str, encoding: str) -> None:
    text = f"{HEADER}{named}\rPID|1||7||Müller^Ada"
    assert hl7_text.decode(text.encode(encoding))[0] == text


def test_a_message_that_names_no_set_is_read_in_the_one_of_its_door() -> None:
    content = f"{HEADER}\rPID|1||7||Müller".encode("latin-1")
    assert "Müller" in hl7_text.decode(content, "8859/1")[0]
    with pytest.raises(Unusable, match="names no character set"):
        hl7_text.decode(content)


@pytest.mark.parametrize(
    ("named", "content", "why"),
    [
        ("KLINGON", b"", "not known here"),
        ("ASCII", "Müller".encode(), "not written in 'ASCII'"),
        ("", b"\x00", "value 0"),
    ],
)
def test_what_is_not_of_its_set_is_refused_in_words(named: str, content: bytes, why: str) -> None:
    with pytest.raises(Unusable, match=why):
        hl7_text.decode(f"{HEADER}{named}\rPID|1||7||".encode() + content)


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_segments_may_end_as_files_do(end: str) -> None:
    message = Segments(end.join([HEADER, "PID|1||222^^^HOSP&1.2&ISO^MR~5^^^X||A\\T\\B^Ada", ""]))
    pid = message.first("PID")
    assert pid.text(5) == "A&B"
    assert (pid.text(5, 2), pid.text(5, 9), pid.text(40)) == ("Ada", "", "")
    assert [hl7_text.part((one,), 4) for one in pid.field(3)] == ["HOSP", "X"]
    assert hl7_text.part(pid.field(3), 4, 2) == "1.2"


def test_other_separators_are_those_that_the_header_names() -> None:
    message = Segments("MSH:*+!%:PAS:HOSP\rPID:1::7***H:x:A*B!F!C")
    assert message.first("PID").text(3, 4) == "H"
    assert message.first("PID").text(5, 2) == "B!F!C".replace("!F!", ":")


@pytest.mark.parametrize(
    "text", ["", "PID|1", "MSH", "MSH|^~", "MSH||||||", "MSH|^^^^|", "MSHabcdefg"]
)
def test_a_header_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(Unusable):
        Segments(text)


@given(st.text(max_size=60))
def test_no_text_breaks_the_parser(text: str) -> None:
    for whole in (text, HEADER + text, f"{HEADER}\rPID|{text}"):
        try:
            hl7_text.Segments(whole).first("PID").field(3)
        except Unusable:
            continue


def test_a_batch_file_gives_its_messages_and_what_its_trailers_promise() -> None:
    lines = [
        "FHS|^~\\&|PAS",
        "BHS|^~\\&|PAS",
        HEADER,
        "PID|1||7",
        HEADER,
        "PID|1||8",
        "BTS|2",
        "FTS|1",
    ]
    found = hl7_text.split_file("\r\n".join(lines).encode())
    assert (len(found.messages), found.promised) == (2, 2)
    assert found.messages[1] == f"{HEADER}\rPID|1||8".encode()


def test_a_file_without_envelopes_or_with_frames_of_the_line_is_split_as_well() -> None:
    framed = b"\x0b" + HEADER.encode() + b"\rPID|1||7\r\x1c\r"
    assert hl7_text.split_file(framed * 3).messages == (HEADER.encode() + b"\rPID|1||7",) * 3
    assert hl7_text.split_file(b"").messages == ()


def test_rows_before_the_first_header_are_kept_to_be_seen() -> None:
    assert hl7_text.split_file(b"PID|1||7\r").messages == (b"PID|1||7",)
