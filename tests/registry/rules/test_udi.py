"""Labels of implants: published strings and our own, what is refused, and any text at all."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import udi
from registry.rules.labels import Issuer, LabelRefused
from tests.registry.rules.label_vectors import GS, GS1, HIBC, REFUSED, TISSUE, TODAY

WITHOUT_SEPARATOR = "]d201095060001343521727013110LOT42A21SN0042"


@pytest.mark.parametrize(("text", "said", "source"), [*GS1, *HIBC, *TISSUE])
def test_a_published_label_is_read(text: str, said: dict[str, Any], source: str) -> None:
    label = udi.read(text, today=TODAY)
    assert {name: getattr(label, name) for name in said} == said, source
    assert label.raw == text


@pytest.mark.parametrize(("text", "words", "source"), REFUSED)
def test_a_damaged_label_is_refused_in_words(text: str, words: str, source: str) -> None:
    with pytest.raises(LabelRefused) as refusal:
        udi.read(text, today=TODAY)
    assert words in str(refusal.value), source


def test_a_label_names_its_issuer() -> None:
    of = {text: udi.read(text, today=TODAY).issuer for text, *_ in (GS1[0], HIBC[0], TISSUE[0])}
    assert list(of.values()) == [Issuer.GS1, Issuer.HIBC, Issuer.ICCBBA]


def test_a_lost_separator_is_shown_and_never_certain() -> None:
    # Fourteen characters are a legal batch, so nothing but a person can tell.
    label = udi.read(WITHOUT_SEPARATOR, today=TODAY)
    assert not label.is_certain
    assert (label.batch, label.serial) == ("LOT42A21SN0042", "")
    assert [(one.batch, one.serial) for one in label.readings] == [("LOT42A", "SN0042")]
    assert "LOT42A21SN0042" in label.doubts[0]


def test_a_batch_that_runs_on_over_its_length_is_never_kept_as_it_is() -> None:
    label = udi.read("0109506000134352" + "101234567890123456789" + "21SERIAL", today=TODAY)
    assert label.batch == ""
    assert label.readings[0].batch == "1234567890123456789"
    assert label.readings[0].serial == "SERIAL"
    assert not label.is_certain


def test_an_expiry_behind_a_lost_separator_is_found() -> None:
    label = udi.read("010950600013435210LOT42A17270131", today=TODAY)
    assert [(one.batch, one.expires_on) for one in label.readings] == [
        ("LOT42A", date(2027, 1, 31))
    ]


def test_a_batch_that_can_be_nothing_else_is_certain_without_a_separator() -> None:
    assert udi.read("010950600013435210LOT42A", today=TODAY).is_certain


@pytest.mark.parametrize(
    "written", ["<GS>", "{GS}", "[GS]", "<FNC1>", "\\x1d", "\\u001d", "^]", "␝", "↔", "|", "<gs>"]
)
def test_a_separator_that_is_written_out_is_read_and_told_of(written: str) -> None:
    text = f"01095060001343521727013110LOT42A{written}21SN0042"
    label = udi.read(text, today=TODAY)
    assert (label.batch, label.serial) == ("LOT42A", "SN0042")
    assert "written out" in label.notes[0]
    assert label.raw == text


@pytest.mark.parametrize("prefix", ["]d2", "]C1", "]Q3", "]e0", "]d1", "]C0", ""])
def test_the_kind_of_symbol_in_front_is_taken_off(prefix: str) -> None:
    label = udi.read(f"{prefix}010950600013435210B7{GS}21S1\r\n", today=TODAY)
    assert (label.batch, label.serial) == ("B7", "S1")
    assert label.raw == f"{prefix}010950600013435210B7{GS}21S1"


@pytest.mark.parametrize("prefix", ["]C0", "]A0", "]d1", "]Q1", "]z0"])
def test_a_camera_says_before_any_label_what_symbol_it_saw(prefix: str) -> None:
    label = udi.read(f"{prefix}+A999PLATE1230/$$3270131LOT42AL", today=TODAY)
    assert (label.device_identifier, label.batch) == ("A999PLATE1230", "LOT42A")
    assert udi.read(f"{prefix}{TISSUE[0][0]}", today=TODAY).serial == "000025"


def test_the_arrow_of_a_published_example_is_a_separator() -> None:
    """FHIR R4 device-example-udi1: its AIDC prints an arrow where the separator belongs."""
    text = "01108576740020171714112010NYFUL01↔21192837"
    label = udi.read(text, today=TODAY)
    assert label.device_identifier == "10857674002017"
    assert (label.batch, label.serial) == ("NYFUL01", "192837")
    assert label.expires_on == date(2014, 11, 20)


def test_an_escaped_ampersand_goes_there_and_back() -> None:
    # In HL7 version 2 it travels as \T\.
    plain = TISSUE[0][0]
    escaped = udi.read(plain.replace("&", "\\T\\"), today=TODAY)
    assert escaped.batch == udi.read(plain, today=TODAY).batch
    assert escaped.notes


def test_two_symbols_make_the_label_of_one_part() -> None:
    label = udi.read_part(f"(01)09506000134352\n(17)270131(10)B7{GS}", today=TODAY)
    assert (label.device_identifier, label.batch) == ("09506000134352", "B7")
    with pytest.raises(LabelRefused, match="several parts"):
        udi.read_part("(01)09506000134352\n(01)00844588003288", today=TODAY)
    with pytest.raises(LabelRefused, match="names no article"):
        udi.read_part("(10)B7", today=TODAY)
    with pytest.raises(LabelRefused, match="Nothing was scanned"):
        udi.read_part(" \n ", today=TODAY)


def test_a_separator_is_no_end_of_a_line() -> None:
    # Python's own ways to split lines and to strip take it for one.
    label = udi.read_part(f"010950600013435210B7{GS}21S1\r\n", today=TODAY)
    assert (label.batch, label.serial) == ("B7", "S1")


ALIKE = st.text(alphabet="0123456789ABC()+$/=,&>}{<GS>\x1d]d2 .%-abß\u0663", max_size=60)
DAMAGED = st.builds(
    lambda vector, place, what: vector[:place] + what + vector[place + 1 :],
    st.sampled_from([text for text, *_ in [*GS1, *HIBC, *TISSUE]]),
    st.integers(0, 80),
    st.text(max_size=2),
)


@given(st.one_of(st.text(max_size=80), ALIKE, DAMAGED, st.from_regex(r"[0-9]{6,14}\Z")))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        label, refused = udi.read(text, today=TODAY), ""
    except LabelRefused as refusal:
        label, refused = None, str(refusal)
    if label is None:
        assert len(refused) > 20
        assert refused.endswith(".")
        return
    said = (label.others, label.catalogue_number, label.quantity)
    assert label.is_whole or label.says_production or any(said)
    assert label.is_certain or label.doubts
    for value in (label.device_identifier, label.batch, label.serial):
        assert value.isascii()
