"""'How well do we follow?' as a section for paper: the flow, and completeness three ways."""

from collections.abc import Sequence

from analytics.answers import completeness
from analytics.answers.completeness import GroupRow
from analytics.answers.flow import Flow
from analytics.answers.outcomes import ALL, percent
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_flow import flow_chart

AHEAD = ("Group", "Operated")
BEHIND = ("Person-time observed, %", "Lost", "Failures", "Lost for each failure")


def section(
    key: str, title: str, found: Flow, rows: Sequence[GroupRow], definition: str, about: About
) -> Section:
    """Return where everybody went, and completeness by group, the last row being of all."""
    whole = rows[-1]
    if whole.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    caption = about.caption(
        f"From operated to analysed by {found.horizon.name}",
        "Every case is in one end or beside one arrow",
        definition,
    )
    return Section(
        key=key,
        title=title,
        sentence=_sentence(whole, found),
        tables=(_table(key, rows, found, definition, about),),
        figures=(Figure(caption, flow_chart(found)),),
        methods=("person-time", "lost-to-failure"),
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
    return Table(
        caption=about.caption(
            f"Completeness by {about.by}, up to {found.horizon.name}",
            "At each step the reviews held of those whose window is over; Clark's share of person-time; lost for each "
            "failure",
            definition,
        ),
        head=head,
        rows=tuple(_cells(row, steps) for row in rows),
        numbers=tuple(range(1, len(head))),
        widths=(1.1, *(1.0 for _ in head[1:])),
        name=key,
        data=tuple(completeness.to_rows(tuple(rows))),
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
