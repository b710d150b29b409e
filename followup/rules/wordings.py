"""The words of a licensed instrument as a site pastes them: read, checked, never shipped."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from followup.rules.scores.catalogue import INSTRUMENTS, Instrument

NUMBERED = re.compile(r"^\s*(\d{1,2})\s*[.)]\s+(.+)$")


@dataclass(frozen=True)
class ItemForm:
    """How many items an instrument has, and from which to which whole number each is answered."""

    numbers: tuple[int, ...]
    low: int
    high: int

    @property
    def answers(self) -> int:
        """How many answers each item offers."""
        return self.high - self.low + 1


def _form(instrument: Instrument) -> ItemForm:
    """Return what a site has to paste of an instrument: an item that has words of ours is not it."""
    items = [item for item in instrument.items if not item.words]
    ends = {(int(item.low), int(item.high)) for item in items}
    ((low, high),) = ends
    return ItemForm(tuple(item.number for item in items), low, high)


# What patients answer by number, in words that are licensed. Every item takes the same answers.
ITEM_FORMS = {
    code: _form(instrument)
    for code, instrument in INSTRUMENTS.items()
    if instrument.patient_reported and any(not item.words for item in instrument.items)
}


@dataclass(frozen=True)
class ItemWords:
    """One item: its number, its words, and each answer's number with its words."""

    number: int
    text: str
    choices: tuple[tuple[int, str], ...]


def parse(pasted: str, form: ItemForm) -> tuple[ItemWords, ...]:
    """Read pasted items: a line 'number. text', then a line for each answer, from lowest number up.

    An item without lines of its own takes the answers of the item before it. Raises ValueError that
    names the item, what is wrong with it and what is wanted.
    """
    items: list[ItemWords] = []
    for number, text, lines in _parts(pasted):
        if number not in form.numbers:
            raise ValueError(
                f"There is no item {number}; items go from {form.numbers[0]} to {form.numbers[-1]}."
            )
        if number in {item.number for item in items}:
            raise ValueError(f"Item {number} is there twice; leave one out.")
        labels = lines or ([words for _, words in items[-1].choices] if items else [])
        if len(labels) != form.answers:
            raise ValueError(
                f"Item {number} has {len(labels)} answers; {form.answers} are needed, one on each "
                f"line, from {form.low} to {form.high}."
            )
        items.append(ItemWords(number, text, tuple(enumerate(labels, form.low))))
    missing = [str(number) for number in form.numbers if number not in {i.number for i in items}]
    if missing:
        raise ValueError(f"Not there yet: item {', '.join(missing)}. Paste every item.")
    return tuple(sorted(items, key=lambda item: item.number))


def kept(items: Sequence[ItemWords]) -> list[dict[str, object]]:
    """Return items as plain lists and words that a row can keep."""
    return [
        {
            "number": item.number,
            "text": item.text,
            "choices": [[value, words] for value, words in item.choices],
        }
        for item in items
    ]


def restored(rows: Sequence[dict[str, object]]) -> tuple[ItemWords, ...]:
    """Return the items that a row has kept."""
    found = []
    for row in rows:
        choices = row["choices"]
        if not isinstance(choices, list):
            raise TypeError(f"choices is {choices!r}, not a list of number and words")
        pairs = tuple((int(value), str(words)) for value, words in choices)
        found.append(ItemWords(int(str(row["number"])), str(row["text"]), pairs))
    return tuple(found)


def _parts(pasted: str) -> list[tuple[int, str, list[str]]]:
    parts: list[tuple[int, str, list[str]]] = []
    for number, line in enumerate(pasted.splitlines(), 1):
        begins = NUMBERED.match(line)
        if begins:
            parts.append((int(begins[1]), begins[2].strip(), []))
        elif line.strip() and parts:
            parts[-1][2].append(line.strip())
        elif line.strip():
            raise ValueError(
                f"Line {number} stands before the first item; begin with the number of an item, "
                "a full stop, and its words."
            )
    return parts
