"""The statements that PostgreSQL wrote down as slow, grouped by what differs in values alone."""

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

LINE = re.compile(r"duration: ([0-9.]+) ms +(?:statement|execute [^:]*): (.*)", re.DOTALL)
# A line of the log that begins a new entry, and does not go on with the one before.
BEGINS = re.compile(r"^\d{4}-\d\d-\d\d ", re.MULTILINE)

# Which columns a query of the ORM takes says little, and fills a page.
COLUMNS = re.compile(r'SELECT "[^()]{200,}? FROM')


@dataclass(frozen=True)
class Statement:
    """One statement without its values: how often it was slow, and the longest that it took."""

    text: str
    count: int
    most_ms: float


def length(log: Path) -> int:
    """Return how long a log is now, so that what comes later can be read alone."""
    return log.stat().st_size


def statements(log: Path, skip: int = 0) -> list[Statement]:
    """Return the slow statements that were written down behind a place, those that took most first."""
    with log.open("rb") as file:
        file.seek(skip)
        text = file.read().decode(errors="replace")
    found: dict[str, list[float]] = {}
    starts = [match.start() for match in BEGINS.finditer(text)]
    for begin, end in pairwise([*starts, len(text)]):
        match = LINE.search(text[begin:end])
        if match is not None:
            found.setdefault(without_values(match[2]), []).append(float(match[1]))
    grouped = [Statement(text, len(times), max(times)) for text, times in found.items()]
    return sorted(grouped, key=lambda one: -one.count * one.most_ms)


def without_values(statement: str) -> str:
    """Return a statement with a mark in the place of every value, and one for a whole list of them."""
    text = re.sub(r"'(?:[^']|'')*'", "?", statement)
    text = re.sub(r"(?<![\w\".])-?\d+(?:\.\d+)?\b", "?", text)
    text = re.sub(r"\(\?(?:, *\?)+\)", "(?)", text)
    text = COLUMNS.sub("SELECT ... FROM", text)
    return " ".join(text.split())
