"""Labels of the Health Industry Bar Code: primary and secondary symbols, and both joined by '/'.

References: ANSI/HIBC 2.6, supplier labelling standard. The formats of the secondary symbol are from
memory; the check character and its examples stand in the tests with their sources.
"""

import re
from dataclasses import replace
from datetime import date

from registry.rules.label_dates import day_of_year, full_year, last_of_month, possible
from registry.rules.labels import Issuer, Label, LabelRefused

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
PRIMARY = re.compile(r"\+([A-Z][A-Z0-9]{3})([A-Z0-9]{1,18})([0-9])")
BATCH = re.compile(r"[A-Z0-9 .%-]{0,18}")
# How the first character after '$$' says the form of the date that follows, and how long it is.
DATES = {"2": "mmddyy", "3": "yymmdd", "4": "yymmddhh", "5": "yyjjj", "6": "yyjjjhh", "7": ""}
QUANTITIES = {"8": 2, "9": 5}
LAYOUT = "If this happens often, the scanner is set to another keyboard than the computer."


def check_character(text: str) -> str:
    """Return the check character of a text: the sum of its characters' values modulo 43.

    Raises LabelRefused for a character that has no value there.
    """
    try:
        return ALPHABET[sum(ALPHABET.index(character) for character in text) % 43]
    except ValueError:
        odd = next(character for character in text if character not in ALPHABET)
        raise LabelRefused(
            f"{odd!r} cannot stand in an HIBC label: it was misread. Scan it again. {LAYOUT}"
        ) from None


def read(text: str, *, today: date) -> Label:
    """Read an HIBC label, which begins with '+'.

    Raises LabelRefused when the check character is wrong or the text is none of the known forms.
    """
    plain, notes = _unwrapped(text)
    body, sign, doubts = _checked(plain)
    if len(body) > 1 and body[1].isalpha():
        label = _primary(body, sign, today)
    elif body.startswith("+") and len(body) > 2:
        # The link character, the last before the check character, is that of the primary symbol.
        label = _production(body[1:-1], today)
        label = replace(label, link=body[-1])
    else:
        raise LabelRefused(f"'{text}' is too short for an HIBC label; scan it again.")
    spaces = tuple(
        f"The {word} '{value}' has a space in it; compare it with the label."
        for word, value in (("batch", label.batch), ("serial number", label.serial))
        if " " in value
    )
    return replace(
        label, raw=text, notes=notes + label.notes, doubts=doubts + label.doubts + spaces
    )


def _unwrapped(text: str) -> tuple[str, tuple[str, ...]]:
    """Take the start and stop characters of Code 39 off, and put small letters right."""
    if not text.isascii():
        odd = next(character for character in text if not character.isascii())
        raise LabelRefused(f"{odd!r} cannot stand in an HIBC label: it was misread. {LAYOUT}")
    plain = text[1:-1] if len(text) > 2 and text[0] == text[-1] == "*" else text
    if plain != plain.upper():
        return plain.upper(), ("Small letters were read as capitals: is Caps Lock on?",)
    return plain, ()


def _checked(plain: str) -> tuple[str, str, tuple[str, ...]]:
    """Split a text from its check character, which may be a space that was lost at the end."""
    body, sign = plain[:-1], plain[-1]
    wanted = check_character(body)
    if sign == wanted:
        return body, sign, ()
    if check_character(plain) == " ":
        doubt = (
            "The label fits only if its last character is a space that was lost; compare what was "
            "read with the label."
        )
        return plain, " ", (doubt,)
    raise LabelRefused(
        f"The check character at the end is {sign!r} and should be {wanted!r}: the label was "
        f"misread or mistyped. Scan it again. {LAYOUT}"
    )


def _primary(body: str, sign: str, today: date) -> Label:
    first, *further = body.split("/")
    match = PRIMARY.fullmatch(first)
    if match is None:
        raise LabelRefused(
            f"'{first}' is no HIBC article: after '+' come a labeller of four characters, the "
            "article of 1 to 18 letters and digits, and one digit for the unit."
        )
    labeller, article, unit = match.groups()
    label = Label(
        raw="",
        issuer=Issuer.HIBC,
        device_identifier=f"{labeller}{article}{unit}",
        catalogue_number=article,
        # A primary symbol alone is pointed to by its own check character.
        link="" if further else sign,
    )
    for place, piece in enumerate(further):
        said = _piece(piece, today, is_first=place == 0)
        label = _with(label, said)
    return label


def _with(label: Label, said: Label) -> Label:
    """Put what a further piece says into a label.

    Raises LabelRefused where the label says another thing already.
    """
    changes: dict[str, object] = {"others": label.others + said.others}
    for name in ("batch", "serial", "made_on", "expires_on", "quantity"):
        new, old = getattr(said, name), getattr(label, name)
        if new and old and new != old:
            raise LabelRefused(
                f"The label says two things for one: {old} and {new}. Type the part by hand."
            )
        changes[name] = old or new
    return replace(label, **changes)  # type: ignore[arg-type]  # the names are columns of Label


def _piece(piece: str, today: date, *, is_first: bool) -> Label:
    """Read what stands behind a '/': production data first, then data by their identifiers."""
    if is_first and (piece.startswith("$") or re.match(r"\d{5}", piece)):
        return _production(piece, today)
    match = re.fullmatch(r"(\d{0,3}[A-Z])(.+)", piece)
    if match is None:
        raise LabelRefused(f"'/{piece}' is nothing that an HIBC label may say there.")
    code, value = match.groups()
    empty = Label(raw="", issuer=Issuer.HIBC)
    if code == "S":
        return replace(empty, serial=value)
    if code == "16D":
        return replace(empty, made_on=_whole_date(value, "day of manufacture"))
    if code == "14D":
        return replace(empty, expires_on=_whole_date(value, "expiry"))
    if code == "Q" and value.isdecimal():
        return replace(empty, quantity=int(value))
    return replace(empty, others=((code, value),))


def _production(data: str, today: date) -> Label:
    """Read the data of a secondary symbol, without its '+', link and check characters."""
    empty = Label(raw="", issuer=Issuer.HIBC)
    if data.startswith("$$"):
        rest = data[2:]
        is_serial = rest.startswith("+")
        rest = rest.removeprefix("+")
        quantity, rest = _quantity(rest)
        expires_on, rest = _expiry(rest, today)
        label = replace(empty, expires_on=expires_on, quantity=quantity)
    elif data.startswith("$"):
        is_serial, rest, label = data.startswith("$+"), data[1:].removeprefix("+"), empty
    elif re.match(r"\d{5}", data):
        is_serial, rest = False, data[5:]
        label = replace(empty, expires_on=_day_of_year(data[:5], today))
    else:
        raise LabelRefused(f"'{data}' is no form of production data that HIBC knows.")
    if BATCH.fullmatch(rest) is None:
        raise LabelRefused(f"'{rest}' is no batch or serial number: at most 18 letters and digits.")
    return replace(label, serial=rest) if is_serial else replace(label, batch=rest)


def _quantity(rest: str) -> tuple[int | None, str]:
    digits = QUANTITIES.get(rest[:1], 0)
    if not digits:
        return None, rest
    number = rest[1 : 1 + digits]
    if len(number) != digits or not number.isdecimal():
        raise LabelRefused(f"'{rest}' should begin with a quantity of {digits} digits.")
    return int(number), rest[1 + digits :]


def _expiry(rest: str, today: date) -> tuple[date | None, str]:
    if rest[:1] in ("0", "1"):
        form, digits, rest = "mmyy", rest[:4], rest[4:]
    elif rest[:1] in DATES:
        form = DATES[rest[0]]
        digits, rest = rest[1 : 1 + len(form)], rest[1 + len(form) :]
    elif not rest:
        return None, rest
    else:
        raise LabelRefused(f"'$${rest}' has no form of date that HIBC knows.")
    if not form:
        return None, rest
    if len(digits) != len(form) or not digits.isdecimal():
        raise LabelRefused(f"The date '{digits}' should have {len(form)} digits ({form}).")
    return _date(form, digits, today), rest


def _date(form: str, digits: str, today: date) -> date:
    """Return a date by its form; of a month the last day, of a time the day."""
    if form.startswith("yyjjj"):
        return _day_of_year(digits[:5], today)
    part = {
        name: int(digits[form.index(name) :][:2]) for name in ("yy", "mm", "dd") if name in form
    }
    year = full_year(part["yy"], today)
    if "dd" not in part:
        return last_of_month(year, part["mm"], digits)
    return possible(year, part["mm"], part["dd"], digits)


def _day_of_year(digits: str, today: date) -> date:
    return day_of_year(full_year(int(digits[:2]), today), int(digits[2:5]), digits)


def _whole_date(value: str, word: str) -> date:
    if not re.fullmatch(r"[0-9]{8}", value):
        raise LabelRefused(f"The {word} '{value}' should be a year, month and day in 8 digits.")
    return possible(int(value[:4]), int(value[4:6]), int(value[6:]), value)
