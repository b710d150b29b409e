"""Check digits, and which two symbols make one label."""

from collections.abc import Sequence

import pytest

from registry.rules import udi
from registry.rules.labels import (
    Label,
    LabelRefused,
    article_number,
    belong_together,
    check_digit,
    gathered,
    half_refused,
    joined,
    plain_identifier,
    reading,
)
from tests.registry.rules.label_vectors import TODAY

PLATE, SECOND = "(01)09506000134352", "(17)270131(10)B7"
HIBC, HIBC_SECOND = "+A123BJC5D6E71G", "+$$52001510X3GD"


def read(text: str) -> Label:
    return udi.read(text, today=TODAY)


def gather(texts: Sequence[str]) -> list[tuple[str, str]]:
    found = gathered(read(text) for text in texts)
    return [(label.device_identifier, label.batch) for label in found]


@pytest.mark.parametrize(
    ("body", "digit", "source"),
    [
        ("629104150021", 3, "GS1, page of its members"),
        ("5102222223333", 6, "FDA, formats of the issuing agencies, 2017"),
        ("0064316900176", 3, "HL7 v2, text of PRT-10"),
        ("0084458800328", 8, "FHIR R4, device example"),
        ("1085767400201", 7, "FHIR R4, device example, its AIDC"),
        ("0950600013435", 2, "own"),
        ("0001195401344", 2, "own: much public code has 8"),
    ],
)
def test_the_check_digit_is_that_of_the_standard(body: str, digit: int, source: str) -> None:
    assert check_digit(body) == digit, source


def test_an_article_number_has_14_digits() -> None:
    assert article_number("6291041500213") == "06291041500213"
    with pytest.raises(LabelRefused, match="check digit is 2"):
        article_number("00011954013448")


def test_a_typed_identifier_is_kept_as_a_scanned_one() -> None:
    assert plain_identifier("6291041500213") == "06291041500213"
    assert plain_identifier(" 0629104150021 3") == "06291041500213"
    assert plain_identifier("+a999plate1230") == "A999PLATE1230"
    with pytest.raises(LabelRefused):
        plain_identifier("6291041500214")


@pytest.mark.parametrize("texts", [[PLATE, SECOND], [SECOND, PLATE]])
def test_two_symbols_are_joined_in_either_order(texts: list[str]) -> None:
    assert gather(texts) == [("09506000134352", "B7")]


def test_a_second_symbol_goes_to_the_label_before_it_that_lacks_it() -> None:
    other = "(01)00844588003288"
    found = gather([PLATE, SECOND, other, "(10)B8"])
    assert found == [("09506000134352", "B7"), ("00844588003288", "B8")]


def test_an_article_scanned_from_two_symbols_is_one_label() -> None:
    label = joined(read("09506000134352"), read(f"{PLATE}{SECOND}"))
    assert label.batch == "B7"
    assert "same article" in label.notes[-1]
    assert belong_together(read("09506000134352"), read(f"{PLATE}{SECOND}"))
    assert not belong_together(read(f"{PLATE}{SECOND}"), read(f"{PLATE}(10)B8"))


def test_symbols_of_two_issuers_or_of_another_link_stay_apart() -> None:
    assert gather([HIBC, HIBC_SECOND]) == [("A123BJC5D6E71", "10X3")]
    assert len(gather([PLATE, HIBC_SECOND])) == 2
    assert len(gather(["+A999PLATE1230B", HIBC_SECOND])) == 2
    assert "whose check character is 'G'" in str(half_refused(read(HIBC_SECOND)))


def test_both_texts_are_kept() -> None:
    assert joined(read(SECOND), read(PLATE)).raw == f"{PLATE}\n{SECOND}"


def test_a_doubt_stays_when_symbols_are_joined() -> None:
    label = joined(read(PLATE), read("10LOT42A21SN0042"))
    assert not label.is_certain
    chosen = reading(label, 1)
    assert (chosen.device_identifier, chosen.batch, chosen.serial) == (
        "09506000134352",
        "LOT42A",
        "SN0042",
    )
    assert reading(label, 0) == label
    with pytest.raises(LabelRefused, match="no reading number 2"):
        reading(label, 2)
