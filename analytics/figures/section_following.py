"""'How well do we follow?' as a section for paper: the flow, completeness three ways, and each step."""

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.answers import attendance, completeness, flow, outside, responding
from analytics.answers.attendance import BY, WAYS, Line
from analytics.answers.completeness import GroupRow
from analytics.answers.flow import Flow
from analytics.answers.outcomes import ALL, percent
from analytics.answers.responding import Response
from analytics.figures.sections import About, Figure, Section, Table, file_table
from analytics.figures.svg_bars import attendance_bars
from analytics.figures.svg_flow import flow_chart

AHEAD = ("Group", "Operated")
BEHIND = ("Person-time observed, %", "Lost", "Failures", "Lost for each failure")


@dataclass(frozen=True)
class Followed:
    """What is known of how a cohort is followed: flows by group, completeness, reviews, responses.

    The last of `flows` and of `rows` are of all; `lines` are by step, site and month.
    """

    flows: dict[str, Flow]
    rows: Sequence[GroupRow]
    lines: dict[str, tuple[Line, ...]]
    responses: tuple[Response, ...]


def section(key: str, title: str, found: Followed, definition: str, about: About) -> Section:
    """Return where everybody went, completeness by group, and how each step's reviews ended."""
    whole, drawn = found.rows[-1], found.flows[ALL]
    if whole.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    caption = about.caption(
        f"From operated to analysed by {drawn.horizon.name}",
        "Every case is in one end or beside one arrow",
        definition,
    )
    tables = [_table(key, found.rows, drawn, definition, about)]
    figures = [Figure(caption, flow_chart(drawn))]
    if found.responses:
        tables.append(_responses(f"{key}-responses", found.responses, about))
    if found.lines["step"][-1].planned:
        tables += [_reviews(by, lines, about) for by, lines in found.lines.items() if by != "month"]
        bars = about.caption(
            "How planned reviews ended, by step",
            "The bar is all that were planned, with their number before it; numbers of reviews in it",
        )
        figures.append(Figure(bars, attendance_bars(found.lines["step"])))
    return Section(
        key=key,
        title=title,
        sentence=_sentence(whole, drawn),
        tables=tuple(tables),
        figures=tuple(figures),
        methods=("person-time", "lost-to-failure"),
        beside=(
            file_table(
                f"{key}-flow",
                about.caption(f"The flow by {about.by}", "", definition),
                flow.to_rows(found.flows),
            ),
            file_table(
                f"{key}-reviews",
                about.caption("How planned reviews ended by step, site and month", ""),
                attendance.to_rows(found.lines),
            ),
        ),
    )


def _sentence(whole: GroupRow, found: Flow) -> str:
    time = whole.person_time.share
    seen = f"{percent(time)} of the person-time that could have been was observed. " if time else ""
    more = (
        " More are lost than are known to have failed: the rates could be quite different."
        if whole.more_lost_than_failed
        else ""
    )
    return (
        f"By {found.horizon.name}: {seen}{whole.lost} are lost to follow-up and {whole.failures} "
        f"are known to have failed.{more}"
    )


def _table(key: str, rows: Sequence[GroupRow], found: Flow, definition: str, about: About) -> Table:
    steps = list(rows[-1].reviewed)
    head = (*AHEAD, *steps, *BEHIND)
    data = completeness.to_rows(tuple(rows))
    what = f"Completeness by {about.by}, up to {found.horizon.name}"
    return Table(
        caption=about.caption(
            what,
            "At each step the reviews held of those whose window is over; Clark's share of person-time; lost for each "
            "failure",
            definition,
        ),
        head=head,
        rows=tuple(_cells(row, steps) for row in rows),
        numbers=tuple(range(1, len(head))),
        widths=(1.1, *(1.0 for _ in head[1:])),
        name=key,
        data=tuple(data),
        shape=outside.completeness(data),
        outside=about.caption(what, "", definition),
    )


def _cells(row: GroupRow, steps: Sequence[str]) -> tuple[str, ...]:
    time = row.person_time.share
    reviewed = (row.reviewed.get(step) for step in steps)
    return (
        "all" if row.group == ALL else row.group,
        str(row.operated),
        *(f"{share.number}/{share.of}" if share and share.of else "" for share in reviewed),
        f"{time * 100:.1f}" if time is not None else "",
        str(row.lost),
        str(row.failures),
        f"{row.quotient:.1f}" if row.quotient is not None else "none failed",
    )


def _reviews(by: str, lines: tuple[Line, ...], about: About) -> Table:
    ways = [way for way in WAYS if lines[-1].counts[way]]
    return Table(
        caption=about.caption(
            f"How planned reviews ended, by {BY[by]}",
            "Every planned review is in one column; days late: median days from the due day to the visit; "
            "days to entry: from the visit to the last entry",
        ),
        head=(
            BY[by].capitalize(),
            "Planned",
            *(WAYS[way].capitalize() for way in ways),
            "Days late",
            "Days to entry",
        ),
        rows=tuple(_review_cells(line, ways) for line in lines),
        numbers=tuple(range(1, 4 + len(ways))),
        # A column is as wide as the longest word over it.
        widths=(1.2, 1.1, *(_wide(WAYS[way]) for way in ways), 0.8, 0.9),
    )


def _wide(words: str) -> float:
    return max(0.8, max(map(len, words.split())) * 0.15)


def _review_cells(line: Line, ways: Sequence[str]) -> tuple[str, ...]:
    return (
        line.label,
        str(line.planned),
        *(str(line.counts[way]) for way in ways),
        f"{line.late.median:z.0f}" if line.late else "",
        f"{line.entered.median:z.0f}" if line.entered else "",
    )


def _responses(name: str, found: tuple[Response, ...], about: About) -> Table:
    return Table(
        caption=about.caption(
            "Patients' own scores, of the reviews that wanted one",
            "Share with Wilson's 95% interval",
        ),
        head=("Horizon", "Wanted", "Answered", "Share"),
        rows=tuple(
            (one.name, str(one.share.of), str(one.share.number), one.words) for one in found
        ),
        numbers=(1, 2),
        widths=(1.2, 0.8, 0.8, 2.2),
        name=name,
        data=tuple(responding.to_rows(found)),
    )
