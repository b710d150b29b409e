"""The text of an implant's label -> what it says: the one door to all kinds of labels.

Whatever a scanner, a camera or a person gives is either read or refused in words. Nothing is
guessed: where a text can mean two things, the label has a doubt and both readings.
"""

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from registry.rules import gs1_labels, hibc_labels, tissue_labels
from registry.rules.labels import MOST_CHARACTERS, Label, LabelRefused, gathered, half_refused

# How the separator comes when a keyboard cannot type it: written out, as a picture, or as what a
# code page makes of character 29.
WRITTEN_OUT = re.compile(
    r"<GS>|\{GS\}|\[GS\]|<FNC1>|\{FNC1\}|\[FNC1\]|\\x1d|\\u001d|\^\]|␝|↔|⁝|<0x1D>|\|",
    re.IGNORECASE,
)
# Symbology identifiers (ISO/IEC 15424) of symbols that hold element strings, and of an article's.
ELEMENTS = ("]d2", "]C1", "]Q3", "]e0", "]J1")
ARTICLE = ("]E0", "]E3", "]E4", "]I1")
SYMBOLOGY = re.compile(r"\][A-Za-z][0-9A-Za-z]")
# The envelope of ISO/IEC 15434 around element strings (format 05).
ENVELOPE = re.compile(r"\[\)>\x1e05\x1d(.*?)\x1e\x04?", re.DOTALL)
SENDS = "Set the scanner to send the character itself (GS, character 29)."


def read(text: str, *, today: date) -> Label:
    """Read a label's text as it was scanned, pasted or typed; `raw` keeps it as it came.

    Raises LabelRefused, in words for whoever holds the label.
    """
    raw = text.strip("\r\n\t\x00\ufeff")
    symbology, body = _symbology(raw.lstrip())
    if not body.strip():
        raise LabelRefused("Nothing was scanned. Scan the label, or paste its text.")
    if len(raw) > MOST_CHARACTERS:
        raise LabelRefused(
            f"This is {len(raw)} characters long; no label has more than {MOST_CHARACTERS}. "
            "Scan one label at a time."
        )
    label = _read(symbology, body, today)
    return _as_it_came(label, raw)


def read_all(texts: Iterable[str], *, today: date) -> list[Label]:
    """Read several scans in their order, and join the two symbols of a label.

    Raises LabelRefused at the first that cannot be read.
    """
    return gathered(read(text, today=today) for text in texts)


def read_part(text: str, *, today: date) -> Label:
    """Read the whole label of one part, its symbols each in a line of their own.

    Raises LabelRefused when they are not the label of one part.
    """
    label = read_lines(text, today=today)
    if not label.is_whole:
        raise half_refused(label)
    return label


def read_lines(text: str, *, today: date) -> Label:
    """Read one label or a half of one, its symbols each in a line of their own.

    Raises LabelRefused when they do not belong together.
    """
    # No other way of splitting lines: the separator of GS1 counts as an end of line elsewhere.
    texts = [line for line in re.split(r"\r?\n", text) if line.strip()]
    found = read_all(texts or [text], today=today)
    if len(found) > 1:
        raise LabelRefused("These are the labels of several parts; scan one after the other.")
    return found[0]


def _symbology(raw: str) -> tuple[str, str]:
    match = SYMBOLOGY.match(raw)
    return (match.group(), raw[match.end() :]) if match else ("", raw)


def _read(symbology: str, body: str, today: date) -> Label:
    envelope = ENVELOPE.fullmatch(body)
    if envelope is not None:
        return gs1_labels.read(envelope.group(1), today=today)
    if symbology in ARTICLE and gs1_labels.is_number(body.strip()):
        return replace(gs1_labels.read_number(body.strip(), today=today), doubts=(), readings=())
    if symbology not in ELEMENTS:
        label = _by_beginning(body, today)
        if label is not None:
            return label
    return _elements(body, today)


def _by_beginning(body: str, today: date) -> Label | None:
    """Read what says by its first character whose label it is; None where none does."""
    plain = body.strip()
    if plain.startswith(("+", "*+")):
        # The check character may be a space, which belongs to the label.
        return hibc_labels.read(body, today=today)
    if plain.startswith(("=", "&,1")):
        return tissue_labels.read(plain)
    if re.match(r"https?://", plain, re.IGNORECASE):
        return gs1_labels.read_address(plain, today=today)
    if re.match(r"[({]\d{2,4}[)}]", plain):
        return gs1_labels.read_bracketed(plain, today=today)
    digits = re.sub(r"(?<=\d)[ -](?=\d)", "", plain)
    if gs1_labels.is_number(digits):
        return gs1_labels.read_number(digits, today=today)
    return None


def _elements(body: str, today: date) -> Label:
    plain, written = WRITTEN_OUT.subn(gs1_labels.SEPARATOR, body)
    label = gs1_labels.read(plain, today=today)
    if not written:
        return label
    note = f"The separator came written out, and was read as what it stands for. {SENDS}"
    return replace(label, notes=(*label.notes, note))


def _as_it_came(label: Label, raw: str) -> Label:
    readings = tuple(replace(one, raw=raw) for one in label.readings)
    return replace(label, raw=raw, readings=readings)
