"""What the charts have signalled and nobody has closed, as a section for paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from analytics.figures.sections import Section, Table

HEAD = ("Chart", "Cases", "Events", "Expected", "Raised", "Owner", "Due", "Stands")


@dataclass(frozen=True)
class SignalLine:
    """One open signal: its chart, what was seen and expected there, and who sees to it by when."""

    chart: str
    cases: int
    events: int
    expected: float
    raised_on: date
    owner: str
    due_on: date
    state: str


def section(lines: Sequence[SignalLine], today: date) -> Section:
    """Return the open signals; one opens a task for somebody and is no verdict."""
    title = "Is anything drifting?"
    if not lines:
        return Section("signals", title, "No signal is open at these sites.")
    late = sum(line.due_on < today for line in lines)
    return Section(
        key="signals",
        title=title,
        sentence=(
            f"Open signals: {len(lines)}; past their day: {late}. A signal asks somebody to look, at "
            "the data first; it is no verdict."
        ),
        tables=(
            Table(
                caption=f"Signals that are open on {today:%d %b %Y}, the longest past its day on top.",
                head=HEAD,
                rows=tuple(_cells(line, today) for line in lines),
                numbers=(1, 2, 3),
                widths=(2.4, 0.7, 0.8, 0.9, 1.1, 1.3, 1.1, 1.4),
            ),
        ),
    )


def _cells(line: SignalLine, today: date) -> tuple[str, ...]:
    late = ", late" if line.due_on < today else ""
    return (
        line.chart,
        str(line.cases),
        str(line.events),
        f"{line.expected:.1f}",
        f"{line.raised_on:%d %b %Y}",
        line.owner,
        f"{line.due_on:%d %b %Y}{late}",
        line.state,
    )
