"""What earlier meetings decided and what became of it, as a section for paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from analytics.figures.sections import Section, Table

HEAD = ("What", "Who", "By", "Decided on", "What became of it")


@dataclass(frozen=True)
class ActionLine:
    """One decision with its owner and day, where it has them, and what became of it in words."""

    words: str
    owner: str
    due_on: date | None
    decided_on: date
    became: str
    is_open: bool


def section(lines: Sequence[ActionLine], last_held_on: date | None, today: date) -> Section:
    """Return the last meeting's decisions and what is open from before, with what is overdue."""
    title = "What became of the last decisions?"
    if not lines:
        words = "No earlier meeting of these sites decided anything that is on record."
        return Section("actions", title, words)
    still_open = [line for line in lines if line.is_open]
    late = [line for line in still_open if line.due_on is not None and line.due_on < today]
    last = f"The last meeting was held on {last_held_on:%d %b %Y}. " if last_held_on else ""
    sentence = (
        f"{last}Of {len(lines)} decisions, {len(still_open)} are open, {len(late)} of them overdue."
    )
    table = Table(
        caption=f"Decisions of the last meeting, and what earlier ones left open; {today:%d %b %Y}.",
        head=HEAD,
        rows=tuple(_cells(line, today) for line in lines),
        widths=(2.6, 1.2, 0.9, 0.9, 2.0),
    )
    return Section("actions", title, sentence, (table,))


def _cells(line: ActionLine, today: date) -> tuple[str, ...]:
    by = f"{line.due_on:%d %b %Y}" if line.due_on else ""
    late = line.is_open and line.due_on is not None and line.due_on < today
    became = f"{line.became}, overdue" if late else line.became
    return (line.words, line.owner or "nobody", by, f"{line.decided_on:%d %b %Y}", became)
