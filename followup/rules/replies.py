"""What patients answer to a message: whose number it is, and whether they want no more of them."""

from collections.abc import Collection

STOP_WORDS = ("stop", "stopp")
LONGEST_WORD, MOST_WORDS = 20, 20
# Numbers are looked for by their last digits first; a shorter one is no patient's telephone.
LAST_DIGITS = 6


def is_stop(text: str, words: Collection[str]) -> bool:
    """Say whether an answer is one of the words that end messages, and nothing else.

    A word inside a sentence is none: 'please do not stop' would end what it asks for. A person reads
    such an answer.
    """
    wanted = {_bare(word) for word in words} - {""}
    return _bare(text) in wanted


def first_line(text: str) -> str:
    """Return the first line that says something: what an e-mail quotes below it is not its answer."""
    lines = (line.strip() for line in text.splitlines())
    return next((line for line in lines if line and not line.startswith(">")), "")


def checked_words(words: Collection[str]) -> tuple[str, ...]:
    """Return the words that end messages in small letters, each once.

    Raises ValueError for a word that cannot be an answer, or too many of them.
    """
    found = tuple(dict.fromkeys(_bare(word) for word in words if word.strip()))
    if len(found) > MOST_WORDS:
        raise ValueError(f"at most {MOST_WORDS} words")
    for word in found:
        if not word or len(word) > LONGEST_WORD:
            raise ValueError(f"'{word}' is no word of 1 to {LONGEST_WORD} letters")
    return found


def dialled(number: str, country_code: str) -> str:
    """Return the digits by which a number is dialled from anywhere, '' for what is no number.

    `country_code` (44, 49) is put before a number that is written without one, in the place of its
    first 0; unless a site gives one, such a number stays as it is and equals no other form of itself.
    """
    written = number.replace("(0)", "").strip()
    digits = "".join(one for one in written if one.isascii() and one.isdigit())
    if len(digits) < LAST_DIGITS:
        return ""
    if written.startswith("+"):
        return digits
    if digits.startswith("00"):
        return digits[2:]
    if not country_code:
        return digits
    return country_code + digits.removeprefix("0")


def _bare(text: str) -> str:
    """Return a text in small letters, without the marks and blanks around its words."""
    kept = "".join(one if one.isalnum() else " " for one in text.casefold())
    return " ".join(kept.split())
