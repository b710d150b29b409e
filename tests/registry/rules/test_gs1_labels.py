"""GS1 element strings: what is written by the standard's rules is read back as it was."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import gs1_labels
from registry.rules.labels import LabelRefused, check_digit
from tests.registry.rules.label_vectors import GS, TODAY

# The 82 characters of GS1, without those that begin a bracket.
CHARACTERS = "!\"%&'*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
WORDS = st.text(CHARACTERS, min_size=1, max_size=20)
DAYS = st.one_of(st.none(), st.dates(date(1977, 1, 1), date(2076, 12, 31)))
BODIES = st.text("0123456789", min_size=13, max_size=13)
PARTS = st.fixed_dictionaries(
    {"number": BODIES, "made_on": DAYS, "expires_on": DAYS},
    optional={"batch": WORDS, "serial": WORDS},
)


def elements(part: dict[str, object]) -> list[tuple[str, str]]:
    """Write a part as elements, by the standard's own rules."""
    number = str(part["number"])
    found = [("01", f"{number}{check_digit(number)}")]
    for code, name in (("11", "made_on"), ("17", "expires_on")):
        day = part[name]
        if isinstance(day, date):
            found.append((code, f"{day:%y%m%d}"))
    for code, name in (("10", "batch"), ("21", "serial")):
        if name in part:
            found.append((code, str(part[name])))
    return found


def scanned(part: dict[str, object]) -> str:
    free = {"10", "21"}
    return "".join(
        code + value + (GS if code in free else "") for code, value in elements(part)
    ).rstrip(GS)


def bracketed(part: dict[str, object], marks: str = "()") -> str:
    return "".join(f"{marks[0]}{code}{marks[1]}{value}" for code, value in elements(part))


@given(PARTS)
def test_what_is_written_is_read_back(part: dict[str, object]) -> None:
    label = gs1_labels.read(scanned(part), today=TODAY)
    digits = elements(part)[0][1]
    wanted = {"device_identifier": digits, "batch": "", "serial": "", **part}
    del wanted["number"]
    if label.is_certain:
        assert {name: getattr(label, name) for name in wanted} == wanted
    else:
        # Only where one free value is the last and no separator stands anywhere.
        assert not ("batch" in part and "serial" in part)


@given(PARTS, st.sampled_from(["()", "{}"]))
def test_what_is_printed_in_brackets_is_read_back(part: dict[str, object], marks: str) -> None:
    label = gs1_labels.read_bracketed(bracketed(part, marks), today=TODAY)
    assert label.is_certain
    assert label.batch == part.get("batch", "")
    assert label.serial == part.get("serial", "")
    assert (label.made_on, label.expires_on) == (part["made_on"], part["expires_on"])


@given(BODIES, WORDS, WORDS)
def test_a_dropped_separator_never_makes_two_values_one_for_certain(
    number: str, batch: str, serial: str
) -> None:
    whole = scanned({"number": number, "made_on": None, "expires_on": None, "batch": batch})
    try:
        label = gs1_labels.read(f"{whole}21{serial}", today=TODAY)
    except LabelRefused:
        return
    assert not label.is_certain
    if len(label.readings) < gs1_labels.MOST_READINGS:
        assert (batch, serial) in {(one.batch, one.serial) for one in label.readings}


def test_digits_that_are_an_article_or_a_batch_are_asked_about() -> None:
    # 10 and twelve digits: a batch, or a number whose check digit happens to fit.
    body = "1012345678901"
    digits = f"{body}{check_digit(body)}"
    label = gs1_labels.read_number(digits, today=TODAY)
    assert label.device_identifier == digits
    assert label.readings[0].batch == digits[2:]
    assert not label.is_certain
    other = body + str((check_digit(body) + 1) % 10)
    assert gs1_labels.read_number(other, today=TODAY).batch == other[2:]
    assert not gs1_labels.read_number(other, today=TODAY).is_certain


def test_an_expiry_alone_is_no_article_number() -> None:
    label = gs1_labels.read_number("17270131", today=TODAY)
    assert (label.device_identifier, label.expires_on) == ("", date(2027, 1, 31))
    assert label.is_certain


def test_an_address_keeps_its_last_value_and_nothing_else() -> None:
    text = "https://example.org/some/01/9506000134352/10/A%2FB?linkType=all&17=270131"
    label = gs1_labels.read_address(text, today=TODAY)
    assert (label.device_identifier, label.batch) == ("09506000134352", "A/B")
    with pytest.raises(LabelRefused, match="names no article"):
        gs1_labels.read_address("https://[x/01/1", today=TODAY)


def test_what_else_a_label_says_is_kept_by_its_code() -> None:
    label = gs1_labels.read_bracketed("(01)09506000134352(20)07(7003)2701311200", today=TODAY)
    assert label.others == (("20", "07"), ("7003", "2701311200"))


def test_an_expiry_with_its_hour_is_the_expiry_where_no_day_stands_alone() -> None:
    label = gs1_labels.read_bracketed("(01)09506000134352(7003)2701311200", today=TODAY)
    assert label.expires_on == date(2027, 1, 31)
    both = "(01)09506000134352(17)270228(7003)2701311200"
    assert gs1_labels.read_bracketed(both, today=TODAY).expires_on == date(2027, 2, 28)
    with pytest.raises(LabelRefused, match="a day that does not exist"):
        gs1_labels.read_bracketed("(01)09506000134352(7003)2702301200", today=TODAY)


FREE = ["10", "21", "22", "240", "241", "250", "251", "30", "37", "7004", "7020", "710", "91", "99"]


@pytest.mark.parametrize("code", FREE)
def test_whatever_has_a_free_length_is_in_doubt_before_a_known_identifier(code: str) -> None:
    begun = f"010950600013435217270131{code}1"
    further, name, value = ("21", "serial", "5") if code == "10" else ("10", "batch", "5")
    label = gs1_labels.read(f"{begun}{further}{value}", today=TODAY)
    assert not label.is_certain
    assert [getattr(one, name) for one in label.readings] == [value]
    # Alone, or with its separator, it is what it says.
    assert gs1_labels.read(begun, today=TODAY).is_certain
    assert gs1_labels.read(f"{begun}{GS}{further}{value}", today=TODAY).is_certain


@pytest.mark.parametrize(
    ("behind", "name", "said"),
    [
        ("302", "quantity", 2),
        ("17270131", "expires_on", date(2027, 1, 31)),
        ("70032701311200", "expires_on", date(2027, 1, 31)),
        ("11250131", "made_on", date(2025, 1, 31)),
        ("240PL-7", "catalogue_number", "PL-7"),
        ("241PN", "others", (("241", "PN"),)),
        ("250S", "others", (("250", "S"),)),
        ("21S", "serial", "S"),
    ],
)
def test_what_may_follow_a_batch_is_asked_about(behind: str, name: str, said: object) -> None:
    label = gs1_labels.read(f"010950600013435210LOT{behind}", today=TODAY)
    assert not label.is_certain
    assert ("LOT", said) in [(one.batch, getattr(one, name)) for one in label.readings]


def test_a_quantity_that_swallows_a_batch_is_never_certain() -> None:
    label = gs1_labels.read("01095060001343521727013130110LOT5", today=TODAY)
    assert label.quantity is None
    assert [(one.quantity, one.batch) for one in label.readings] == [(1, "LOT5")]
    label = gs1_labels.read("0109506000134352172701313011012345", today=TODAY)
    assert (label.quantity, label.is_certain) == (11012345, False)
    assert [(one.quantity, one.batch) for one in label.readings] == [(1, "12345")]
    with pytest.raises(LabelRefused, match="a separator is missing"):
        gs1_labels.read("0109506000134352301LOT5", today=TODAY)


def test_only_digits_of_an_articles_length_are_its_number() -> None:
    lengths = [n for n in range(1, 20) if gs1_labels.is_number("1" * n)]
    assert lengths == [8, 12, 13, 14]
    assert not gs1_labels.is_number("\u0661" * 13)
