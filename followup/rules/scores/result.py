"""What every instrument answers: a number, or why there is none."""

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
