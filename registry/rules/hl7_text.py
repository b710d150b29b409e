"""The text of HL7 v2 messages: bytes into letters, files into messages, escapes into what they mean.

Source: HL7 v2.5.1, chapter 2: delimiters 2.5.4, escape sequences 2.7, batch protocol 2.10.3; table 0211
of character sets.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import hl7

# Table 0211; what is not here was never seen for the languages that sites write in.
CHARACTER_SETS = {
    "ASCII": "ascii",
    "UNICODE": "utf-8",
    "UNICODE UTF-8": "utf-8",
    "UNICODE UTF-16": "utf-16",
    **{f"8859/{part}": f"iso8859-{part}" for part in (1, 2, 3, 4, 5, 6, 7, 8, 9, 15)},
}
ENVELOPES = ("FHS", "BHS", "BTS", "FTS")
EMPTIED = '""'
LONGEST_HEADER = 4000
Field = tuple[tuple[tuple[str, ...], ...], ...]


class Unusable(ValueError):
    """A message that cannot be used, with the answer that it gets: AE, or AR for a wrong kind."""

    def __init__(self, why: str, answer: str = "AE") -> None:
        """Say why, without anything of a patient."""
        self.answer = answer
        super().__init__(why)


@dataclass(frozen=True)
class SplitFile:
    """The messages of a file, and what its trailers promise of their number, where they say."""

    messages: tuple[bytes, ...]
    promised: int | None


class Segments:
    """A parsed message: its fields by segment and number, with escapes undone."""

    def __init__(self, text: str, encoding: str = "utf-8") -> None:
        """Parse the text of one message.

        Raises Unusable when it has no usable header.
        """
        rows = [line for line in re.split(r"[\r\n]+", text.strip("\r\n\x0b\x1c ")) if line.strip()]
        _check_header(rows[0] if rows else "")
        try:
            self._rows = hl7.parse("\r".join(rows))
        except (hl7.HL7Exception, IndexError, ValueError, AssertionError) as fault:
            raise Unusable("The message cannot be taken apart into segments and fields.") from fault
        self._signs = (*self._rows.separators[1:], self._rows.esc)
        self._encoding = encoding

    def has(self, name: str) -> bool:
        """Say whether there is such a segment."""
        return any(str(row[0]) == name for row in self._rows)

    def all(self, name: str) -> "list[Segment]":
        """Return the segments of a name, in order."""
        return [Segment(self, row) for row in self._rows if str(row[0]) == name]

    def first(self, name: str) -> "Segment":
        """Return the first segment of a name; one without fields where there is none."""
        found = self.all(name)
        return found[0] if found else Segment(self, ())

    def plain(self, text: str) -> str:
        """Return what a text means, without escapes and doubled spaces."""
        return " ".join(unescape(text, self._signs, self._encoding).split())


class Segment:
    """One segment; every question for what is not there is answered with ''."""

    def __init__(self, message: Segments, row: Sequence[object]) -> None:
        self._message, self._row = message, row

    def field(self, number: int) -> Field:
        """Return a field as repetitions of components of subcomponents."""
        if number >= len(self._row):
            return ()
        return tuple(self._repetition(one) for one in _parts(self._row[number]))

    def text(self, number: int, component: int = 1) -> str:
        """Return a component of the first repetition of a field."""
        return part(self.field(number)[:1], component)

    def _repetition(self, one: object) -> tuple[tuple[str, ...], ...]:
        return tuple(
            tuple(self._message.plain(str(sub)) for sub in _parts(component))
            for component in _parts(one)
        )


def part(repetitions: Field, component: int, sub: int = 1) -> str:
    """Return a subcomponent of the first of some repetitions, '' where there is none."""
    if not repetitions or component > len(repetitions[0]):
        return ""
    subs = repetitions[0][component - 1]
    return subs[sub - 1] if sub <= len(subs) else ""


def unescape(text: str, signs: Sequence[str], encoding: str = "utf-8") -> str:
    r"""Return what a text means: \F\ \S\ \R\ \T\ \E\ \.br\ and \X..\; other sequences are dropped.

    `signs` are the separators of field, repetition, component and subcomponent, and the escape sign.
    An escape sign that has no partner stands for itself. The library's own function writes the text
    into the log where it does not know a sequence, and a number in one makes it as long as it says.
    """
    field, repetition, component, sub, escape = signs
    if escape not in text:
        return text
    meant = dict(zip("FRSTE", (field, repetition, component, sub, escape), strict=True))
    pieces = text.split(escape)
    told, at = [pieces[0]], 1
    while at < len(pieces):
        if at == len(pieces) - 1:
            told += [escape, pieces[at]]
            break
        told += [_meaning(pieces[at], meant, encoding), pieces[at + 1]]
        at += 2
    return "".join(told)


def decode(content: bytes, fallback: str = "") -> tuple[str, str]:
    """Return the text of a message and its encoding, by the character set that MSH-18 names.

    Without one it is UTF-8, of which ASCII is a part, else `fallback`, a name of table 0211.
    Raises Unusable for an unknown set, or for letters that are not of it.
    """
    named = _named_set(content) or fallback
    encoding = CHARACTER_SETS.get(named.upper()) if named else "utf-8"
    if encoding is None:
        raise Unusable(f"MSH-18 names a character set that is not known here: '{named[:40]}'.")
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as fault:
        said = f"is not written in '{named}', which it names" if named else "names no character set"
        raise Unusable(
            f"The message {said}: byte {fault.start} is no letter of it. Let the sender name its set "
            "in MSH-18, or name it for this site under Setup."
        ) from fault
    if "\x00" in text:
        raise Unusable("The message holds a byte of value 0, which no text has.")
    return text, encoding


def split_file(content: bytes) -> SplitFile:
    """Return the messages of a file: one, several, or batches between FHS, BHS, BTS and FTS.

    Frames of the line protocol are taken off. Trailers that count their messages are added up.
    """
    messages: list[list[bytes]] = []
    promised: int | None = None
    for line in re.split(rb"[\r\n\x0b\x1c]+", content.removeprefix(b"\xef\xbb\xbf")):
        name = line[:3].decode("ascii", "replace")
        if name == "BTS":
            count = line.split(line[3:4])[1] if len(line) > 4 else b""
            promised = (promised or 0) + int(count) if count.isdigit() else promised
        elif name == "MSH":
            messages.append([line])
        elif name not in ENVELOPES and line.strip():
            if not messages:
                # Kept as a message of its own, which is then refused and seen by a person.
                messages.append([])
            messages[-1].append(line)
    return SplitFile(tuple(b"\r".join(lines) for lines in messages), promised)


def _check_header(line: str) -> None:
    if not line.startswith("MSH"):
        raise Unusable("The message does not begin with a header (MSH).")
    if len(line) < 8 or len(line.split("\r")[0]) > LONGEST_HEADER:
        raise Unusable("The header (MSH) is cut off or too long.")
    signs = line[3:8]
    if len(set(signs)) < 5 or any(sign.isalnum() or sign.isspace() for sign in signs):
        raise Unusable("MSH-1 and MSH-2 do not name five separators that differ.")


def _named_set(content: bytes) -> str:
    header = re.split(rb"[\r\n]", content.lstrip(b"\x0b\r\n "), maxsplit=1)[0][:LONGEST_HEADER]
    if len(header) < 8:
        return ""
    fields = header.split(header[3:4])
    # The first repetition is the set of the whole; further ones would be switched to by escapes.
    named = fields[17].split(header[5:6])[0] if len(fields) > 17 else b""
    return named.decode("ascii", "replace").strip()


def _meaning(code: str, meant: dict[str, str], encoding: str) -> str:
    if code in meant:
        return meant[code]
    if code[:1] == "X":
        try:
            return bytes.fromhex(code[1:]).decode(encoding, "replace")
        except ValueError:
            return ""
    return "\n" if code.startswith((".sp", ".br", ".ce")) else ""


def _parts(node: object) -> Iterator[object]:
    """Yield the parts of a node of the parsed tree; a leaf is its own only part."""
    if isinstance(node, hl7.Container):
        yield from node
    else:
        yield node
