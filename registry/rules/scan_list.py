"""The list that grows while labels are scanned one after the other, before anything is saved."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from registry.rules import udi
from registry.rules.labels import Label, LabelRefused, belong_together, joined

MOST_LINES = 60


@dataclass(frozen=True)
class Line:
    """One line: its label, whose `raw` has each symbol in a line of its own.

    `place` is where it stood in the list before, None for a new one; `again` is how many more times
    its label was scanned now.
    """

    label: Label
    place: int | None = None
    again: int = 0


@dataclass(frozen=True)
class ScanList:
    """The lines after a scan, and what there is to say about it."""

    lines: tuple[Line, ...]
    told: tuple[str, ...] = ()


def after(kept: Sequence[str], scans: Sequence[str], *, today: date) -> ScanList:
    """Return the list with further scans in it.

    `kept` are the texts of the lines so far. A second symbol joins the label that it belongs to.
    The same label again is one more piece of it, unless its serial number says that it is the same
    one. What cannot be read is told of and not listed.
    """
    lines: list[Line] = []
    told: list[str] = []
    for place, text in enumerate(kept):
        try:
            lines.append(Line(udi.read_lines(text, today=today), place))
        except LabelRefused as fault:
            told.append(str(fault))
    for text in scans:
        try:
            told += _take(lines, udi.read(text, today=today))
        except LabelRefused as fault:
            told.append(f"Not taken: {fault}")
    return ScanList(tuple(lines), tuple(told))


def _take(lines: list[Line], label: Label) -> list[str]:
    """Put one scan into the list, and return what there is to say about it."""
    for place in range(len(lines) - 1, -1, -1):
        # The article's own symbol a second time is that of another piece.
        is_another = label.is_whole and label.raw in lines[place].label.raw.split("\n")
        if not is_another and belong_together(lines[place].label, label):
            doubt = _which(lines, place, label)
            whole = joined(lines[place].label, label)
            lines[place] = replace(lines[place], label=whole)
            return [*doubt, *_merge(lines, place)]
    if not label.is_whole and any(label.raw in one.label.raw.split("\n") for one in lines):
        return [f"This symbol is in the list already: {_shown(label)}."]
    if len(lines) >= MOST_LINES:
        raise LabelRefused(f"The list has {MOST_LINES} lines; save these first.")
    lines.append(Line(label))
    return _merge(lines, len(lines) - 1)


def _which(lines: Sequence[Line], place: int, second: Label) -> list[str]:
    """Say so where a second symbol without a link could have belonged to another line as well."""
    bare = [
        one.label.device_identifier
        for one in lines[:place]
        if one.label.is_whole
        and not one.label.says_production
        and belong_together(one.label, second)
    ]
    if second.is_whole or second.link or lines[place].label.says_production or not bare:
        return []
    first = lines[place].label.device_identifier
    others = ", ".join(dict.fromkeys(bare))
    words = (
        f"Is it of this one? What was scanned ({_shown(second)}) was put to {first}, which was "
        f"scanned last; {others} has no batch or serial number either. Look at the labels."
    )
    return [words]


def _merge(lines: list[Line], place: int) -> list[str]:
    """Let a line that says the same as one before it go into that one."""
    label = lines[place].label
    for other in range(place):
        if lines[other].label.raw != label.raw:
            continue
        again = lines.pop(place).again + 1
        if label.serial:
            return [f"Serial number {label.serial} is in the list already; it is of one piece."]
        lines[other] = replace(lines[other], again=lines[other].again + again)
        told = f"The same label again: {_shown(label)} was counted once more."
        return [f"{told} Correct the number where it was one piece scanned twice."]
    return []


def _shown(label: Label) -> str:
    said = [
        ("", label.device_identifier),
        ("batch ", label.batch),
        ("serial number ", label.serial),
    ]
    return ", ".join(f"{word}{value}" for word, value in said if value) or "a second symbol"
