"""What a service asks for at a step in its own words, and how a person writes it down."""

import re
from collections.abc import Iterable, Mapping, Sequence

MOST, WORDS_LENGTH = 12, 80
CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
CODE_LENGTH = 20


def check(rows: Sequence[Mapping[str, str]]) -> None:
    """Refuse items that cannot be. Raises ValueError saying which, and what is wrong."""
    if len(rows) > MOST:
        raise ValueError(f"{len(rows)} free items are too many; a step takes up to {MOST}")
    codes: set[str] = set()
    for row in rows:
        if set(row) != {"code", "words"}:
            raise ValueError("a free item has a code and words, and nothing else")
        code, words = row["code"], row["words"]
        if not CODE.fullmatch(code) or len(code) > CODE_LENGTH:
            raise ValueError(
                f"'{code}' cannot be the code of a free item; use up to {CODE_LENGTH} small "
                "letters, digits and hyphens"
            )
        if code in codes:
            raise ValueError(f"two free items have the code '{code}'; each needs its own")
        if not words.strip() or len(words) > WORDS_LENGTH:
            raise ValueError(f"'{code}' needs words, up to {WORDS_LENGTH} characters")
        codes.add(code)


def read(text: str) -> list[dict[str, str]]:
    """Read items that were written one on a line, as 'code: words'.

    Raises ValueError for a line that says neither, and for items that cannot be.
    """
    rows = []
    for line in filter(None, (one.strip() for one in text.splitlines())):
        code, colon, words = line.partition(":")
        if not colon:
            raise ValueError(f"'{line}' has no colon; write a short code, a colon, and the words")
        rows.append({"code": code.strip().lower(), "words": words.strip()})
    check(rows)
    return rows


def written(rows: Iterable[Mapping[str, str]]) -> str:
    """Write items as `read` takes them."""
    return "\n".join(f"{row['code']}: {row['words']}" for row in rows)
