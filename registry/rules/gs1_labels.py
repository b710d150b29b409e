"""GS1 labels: element strings as a scanner sends them, in brackets, as an address, or a bare number.

The table of application identifiers and their patterns is that of the biip library. Dates are read
here: the library asks the clock for the century.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from biip import ParseConfig, ParseError
from biip.gs1_application_identifiers import GS1ApplicationIdentifier
from biip.gs1_digital_link_uris import GS1DigitalLinkURI
from biip.gs1_element_strings import GS1ElementString

from registry.rules.label_dates import full_year, last_of_month, possible
from registry.rules.labels import ARTICLE_LENGTHS, Issuer, Label, LabelRefused, article_number

SEPARATOR = "\x1d"
WITHOUT_DATES = ParseConfig(gs1_element_strings_verify_date=False)
BRACKETED = re.compile(r"[({](\d{2,4})[)}]")
# What may follow on a part's label where a separator was lost, and how many readings are offered. A
# count of pieces in a pallet (37) never stands beside an article's number.
FOLLOWING = frozenset({"10", "11", "17", "21", "240", "241", "250", "30", "7003"})
DIGITS = {"11": 6, "17": 6, "7003": 10}
MOST_READINGS = 5
# No data of free length are longer.
LONGEST = 90
Element = tuple[str, str]
LOST = (
    "No separator came with this label, and {word} reads '{value}', which may be more than one "
    "thing run together. Choose what the label says, and set the scanner to send the separator "
    "(GS, character 29)."
)
WORDS = {
    "10": "the batch",
    "21": "the serial number",
    "240": "the catalogue number",
    "241": "the customer's part number",
    "250": "the secondary serial number",
    "30": "the quantity",
    "37": "the count",
}


def read(text: str, *, today: date) -> Label:
    """Read element strings as a scanner sends them, the separator as character 29.

    Raises LabelRefused for what is no GS1 label, and for a wrong check digit or an impossible day.
    """
    body = text.strip(SEPARATOR + " ")
    elements, tail = _elements(body)
    if tail is None:
        label = _label(elements, today)
        return replace(label, raw=text)
    code, value = tail
    readings = tuple(
        replace(_label([*elements, *split], today), raw=text)
        for split in _splits(code, value, {one for one, _ in elements})
        if _is_possible([*elements, *split], today)
    )
    plain_fits, word = _fits(code, value), WORDS.get(code, f"({code})")
    if not readings and plain_fits:
        return replace(_label([*elements, tail], today), raw=text)
    if not readings:
        form = GS1ApplicationIdentifier.extract(code).format
        raise LabelRefused(
            f"{word.capitalize()} cannot be '{_shown(value)}' (its form is {form}): the label was "
            "misread or a separator is missing. Set the scanner to send it (GS, character 29), or "
            "type the part by hand."
        )
    doubt = LOST.format(word=word, value=_shown(value))
    plain = _label([*elements, tail] if plain_fits else elements, today)
    return replace(plain, raw=text, doubts=(*plain.doubts, doubt), readings=readings)


def read_bracketed(text: str, *, today: date) -> Label:
    """Read text whose application identifiers stand in round brackets, or in curly ones.

    Raises LabelRefused as `read` does, and where something stands outside of any identifier.
    """
    plain = "".join(text.split())
    found = [one for one in BRACKETED.finditer(plain) if _known(one.group(1))]
    if not found or found[0].start() != 0:
        raise LabelRefused(
            f"'{text}' names no data that GS1 knows: write for example (01)09506000134352(10)B7."
        )
    ends = [*(one.start() for one in found[1:]), len(plain)]
    elements = [
        (one.group(1), plain[one.end() : end]) for one, end in zip(found, ends, strict=True)
    ]
    for code, value in elements:
        _element(code, value)
    curly = ("Curly brackets were read as round ones.",) if "{" in plain else ()
    label = _label(elements, today)
    return replace(label, raw=text, notes=label.notes + curly)


def read_address(text: str, *, today: date) -> Label:
    """Read an address of the web that carries a GS1 label (Digital Link).

    Raises LabelRefused for any other address.
    """
    try:
        link = GS1DigitalLinkURI.parse(text, config=WITHOUT_DATES)
    except (ParseError, ValueError) as fault:
        raise LabelRefused(
            "This address names no article: a label's address has for example "
            "/01/09506000134352/10/B7 in it."
        ) from fault
    elements = [(one.ai.ai, one.value) for one in link.element_strings]
    return replace(_label(elements, today), raw=text)


def read_number(digits: str, *, today: date) -> Label:
    """Read digits alone: an article number, or production data that looks like one.

    Raises LabelRefused for a wrong check digit, unless the digits are production data.
    """
    try:
        as_data: Label | None = read(digits, today=today)
    except LabelRefused:
        as_data = None
    try:
        number = article_number(digits)
    except LabelRefused:
        if as_data is None or as_data.is_whole:
            raise
        if as_data.expires_on or as_data.made_on:
            return as_data
        doubt = "If these digits are an article number, its check digit is wrong."
        return replace(as_data, doubts=(*as_data.doubts, doubt))
    label = Label(raw=digits, issuer=Issuer.GS1, device_identifier=number)
    if as_data is None:
        return label
    said = as_data.batch or as_data.serial or as_data.expires_on or as_data.made_on
    doubt = f"These digits are an article number, but may also be production data: {said}."
    return replace(label, doubts=(doubt,), readings=(replace(as_data, doubts=()),))


def is_number(text: str) -> bool:
    """Say whether a text is digits of the length of an article number."""
    return text.isascii() and text.isdecimal() and len(text) in ARTICLE_LENGTHS


def _known(code: str) -> bool:
    try:
        return GS1ApplicationIdentifier.extract(code).ai == code
    except ParseError:
        return False


def _element(code: str, value: str) -> GS1ElementString:
    try:
        return GS1ElementString.parse(f"{code}{value}", config=WITHOUT_DATES)
    except (ParseError, ArithmeticError, ValueError) as fault:
        form = GS1ApplicationIdentifier.extract(code).format
        raise LabelRefused(
            f"({code}) cannot hold '{_shown(value)}' (its form is {form}): the label was misread "
            "or a separator is missing. Scan it again."
        ) from fault


def _elements(body: str) -> tuple[list[Element], Element | None]:
    """Take a scanned text apart.

    Returns its elements, and apart from them a last one of free length where no separator stands
    anywhere in the text: it may hold more than it should.
    """
    elements: list[Element] = []
    rest, separated = body, SEPARATOR in body
    while rest:
        code = _code(rest)
        piece, *_ = rest.split(SEPARATOR, 1)
        if not separated and _is_free(code):
            return elements, (code, piece[len(code) :])
        found = _first(code, piece)
        elements.append((code, found.value))
        length = len(code) + len(found.value)
        if length < len(piece) and found.ai.separator_required:
            raise LabelRefused(
                f"({code}) runs on into '{_shown(piece[length:])}': a separator is missing. Set the "
                "scanner to send it (GS, character 29), or type the part by hand."
            )
        rest = rest[length:].lstrip(SEPARATOR)
    return elements, None


def _code(rest: str) -> str:
    try:
        return GS1ApplicationIdentifier.extract(rest).ai
    except ParseError as fault:
        raise LabelRefused(
            f"'{_shown(rest)}' begins with nothing that GS1 knows: this is no label of an implant, "
            "or it was misread. Scan it again, or type the part by hand."
        ) from fault


def _first(code: str, piece: str) -> GS1ElementString:
    try:
        return GS1ElementString.extract(piece, config=WITHOUT_DATES)
    except (ParseError, ArithmeticError, ValueError) as fault:
        raise LabelRefused(
            f"({code}) cannot hold '{_shown(piece[len(code) :])}': the label was misread or is "
            "damaged. Scan it again, or type the part by hand."
        ) from fault


def _splits(code: str, value: str, seen: set[str]) -> list[list[Element]]:
    """Return the ways in which a value may be several run together, the likeliest first."""
    splits = [
        [(code, value[:place]), *further]
        for place in range(1, min(len(value), LONGEST + 1))
        if _fits(code, value[:place])
        for further in _further(value[place:], seen | {code})
    ]
    return sorted(splits, key=lambda one: (len(one), -len(one[0][1])))[:MOST_READINGS]


def _further(rest: str, seen: set[str]) -> Iterator[list[Element]]:
    for code in FOLLOWING - seen:
        if not rest.startswith(code):
            continue
        value = rest[len(code) :]
        length = DIGITS.get(code)
        if length is None:
            if _fits(code, value):
                yield [(code, value)]
        elif re.fullmatch(rf"\d{{{length}}}", value):
            yield [(code, value)]
        elif re.match(rf"\d{{{length}}}", value):
            for further in _further(value[length:], seen | {code}):
                yield [(code, value[:length]), *further]


def _is_free(code: str) -> bool:
    """Say whether data may have several lengths, so that only a separator ends them."""
    return ".." in GS1ApplicationIdentifier.extract(code).format


def _fits(code: str, value: str) -> bool:
    pattern = GS1ApplicationIdentifier.extract(code).pattern
    return bool(value) and re.fullmatch(pattern, f"{code}{value}") is not None


def _is_possible(elements: list[Element], today: date) -> bool:
    try:
        for code, value in elements:
            _element(code, value)
        _label(elements, today)
    except LabelRefused:
        return False
    return True


def _label(elements: list[Element], today: date) -> Label:
    """Return what elements say together.

    Raises LabelRefused for a wrong check digit, an impossible day, or two values for one thing.
    """
    if not elements:
        raise LabelRefused("Nothing but separators was scanned. Scan the label again.")
    said: dict[str, str] = {}
    for code, value in elements:
        nothing = not value or (code == "30" and int(value) == 0)
        if nothing or not value.isascii():
            raise LabelRefused(f"({code}) cannot hold '{_shown(value)}': the label was misread.")
        if said.setdefault(code, value) != value:
            raise LabelRefused(
                f"The label says two things for ({code}): '{said[code]}' and '{_shown(value)}'. "
                "Two labels may have run together; scan one at a time."
            )
    label = Label(
        raw="",
        issuer=Issuer.GS1,
        device_identifier=article_number(said.pop("01")) if "01" in said else "",
        made_on=_day(said.pop("11", ""), today),
        # The day of an expiry with its hour, which is kept beside it.
        expires_on=_day(said.pop("17", "") or said.get("7003", "")[:6], today),
        batch=said.pop("10", ""),
        serial=said.pop("21", ""),
        catalogue_number=said.pop("240", ""),
        quantity=int(said.pop("30", "") or 0) or None,
    )
    return replace(label, others=tuple(said.items()))


def _day(digits: str, today: date) -> date | None:
    if not digits:
        return None
    year, month, day = full_year(int(digits[:2]), today), int(digits[2:4]), int(digits[4:])
    # Day 00 is the last of the month: no new label may say so, old stock does.
    if day == 0:
        return last_of_month(year, month, digits)
    return possible(year, month, day, digits)


def _shown(value: str) -> str:
    """Return a piece of a label as it can be read, its separators written out."""
    return value.replace(SEPARATOR, "<GS>")[:40]
