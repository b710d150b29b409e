"""Which 8-bit encoding wrote a text: told by its accented words, or left to a person to say."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

# The encodings that spreadsheet programs of the last decades have written, with a name for each.
EIGHT_BIT = {
    "cp1252": "Windows-1252, Western European",
    "mac_roman": "Mac Roman",
    "cp1250": "Windows-1250, Central European",
    "cp850": "DOS 850, Western European",
}
OTHERS = {
    "utf-8-sig": "UTF-8",
    "utf-16-le": "UTF-16, little end first",
    "utf-16-be": "UTF-16, big end first",
}
NAMES = {**OTHERS, **EIGHT_BIT}
ACCENTED = re.compile(rb"[A-Za-z'\x80-\xff-]*[\x80-\xff][A-Za-z'\x80-\xff-]*")
# Signs that people write beside numbers and names on purpose.
MEANT = "\u00b0\u00b5\u00b2\u00b3\u00a7\u20ac\u00a3\u2013\u2014\u2018\u2019\u201c\u201d\u00bd\u00d7\u00b1\xa0"


@dataclass(frozen=True)
class Preview:
    """The accented words of a text as one encoding reads them, and whether they look like words."""

    encoding: str
    words: tuple[str, ...]
    plausible: bool

    @property
    def name(self) -> str:
        """The encoding's name in words."""
        return NAMES[self.encoding]


def previews(words: Sequence[bytes], shown: int = 12) -> list[Preview]:
    """Return how each encoding reads some words; those that read them alike are named once.

    The plausible ones come first. An encoding in which a byte means nothing is left out.
    """
    found: dict[tuple[str, ...], Preview] = {}
    for encoding in EIGHT_BIT:
        try:
            read = tuple(word.decode(encoding) for word in words)
        except UnicodeDecodeError:
            continue
        plausible = all(looks_like_a_word(word) for word in read)
        found.setdefault(read, Preview(encoding, read[:shown], plausible))
    return sorted(found.values(), key=lambda one: not one.plausible)


def looks_like_a_word(word: str) -> bool:
    """Say whether a word could be meant: letters alone, and no capital among small letters.

    A degree sign or the like may stand at its edge, an apostrophe within it.
    """
    bare = word.strip(MEANT).replace("\u2019", "'")
    if any(_is_no_letter(letter) for letter in bare if ord(letter) > 127):
        return False
    return not any(
        (ord(one) > 127 or ord(before) > 127) and one.isupper() and before.islower()
        for before, one in pairwise(bare)
    )


def _is_no_letter(letter: str) -> bool:
    # Letters joined for print (fl) are typed by nobody.
    joined = unicodedata.decomposition(letter).startswith("<compat>")
    return joined or unicodedata.category(letter) not in ("Lu", "Ll")


def separator_of(lines: Sequence[str], separators: str) -> str:
    """Return the sign that separates values: the one that occurs equally often in most lines."""
    best, found = (0, 0), separators[0]
    for sign in separators:
        counts = [_outside_quotes(line, sign) for line in lines if line.strip()]
        usual = max(set(counts), key=lambda count: (count > 0, counts.count(count)), default=0)
        score = (counts.count(usual), usual) if usual else (0, 0)
        if score > best:
            best, found = score, sign
    return found


def _outside_quotes(line: str, sign: str) -> int:
    return sum(part.count(sign) for part in line.split('"')[::2])
