"""What every instrument answers: a number, or why there is none; and what its items can hold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class ScoreResult:
    """A total, or the reason why it is not computable; never both."""

    value: float | None
    reason: str = ""

    @property
    def computable(self) -> bool:
        """Whether there is a number."""
        return self.value is not None


@dataclass(frozen=True)
class Item:
    """One numbered item and the answers that it takes. Words are ours; licensed items have none."""

    number: int
    low: float
    high: float
    whole: bool = True
    words: str = ""


def numbered(count: int, low: float, high: float) -> tuple[Item, ...]:
    """Return items 1 to `count` that all take the same whole numbers."""
    return tuple(Item(number, low, high) for number in range(1, count + 1))


def no_number(reason: str) -> ScoreResult:
    """Return a result without a number, saying why."""
    return ScoreResult(None, reason)


def outside(items: dict[int, float], low: float, high: float) -> str:
    """Return a message naming the first item that is no whole number in its range, '' when none is."""
    for number, answer in sorted(items.items()):
        if not low <= answer <= high:
            return f"item {number} is {answer:g}; it goes from {low:g} to {high:g}"
        if answer != int(answer):
            return f"item {number} is {answer:g}; answers are whole numbers"
    return ""


def fault_in(items: Mapping[int, float], known: Sequence[Item]) -> str:
    """Return a message naming the first answer that its item cannot take, '' when there is none."""
    by_number = {item.number: item for item in known}
    for number, answer in sorted(items.items()):
        item = by_number.get(number)
        if item is None:
            return f"there is no item {number}; items go from 1 to {known[-1].number}"
        if item.whole:
            fault = outside({number: answer}, item.low, item.high)
        else:
            inside = item.low <= answer <= item.high
            fault = (
                ""
                if inside
                else f"item {number} is {answer:g}; it goes from {item.low:g} to {item.high:g}"
            )
        if fault:
            return fault
    return ""
