"""'How much went wrong?' as a section for paper: patients and events of each kind, over the time seen."""

from collections.abc import Sequence

from analytics.answers.burden import Burden, to_rows
from analytics.answers.outcomes import ALL
from analytics.answers.outside import BURDEN
from analytics.estimators.results import Estimate
from analytics.figures.section_outcomes import interval
from analytics.figures.sections import About, Section, Table, file_table

HEAD = (
    "Patients",
    "Of operated, % (95% interval)",
    "Events",
    "Per 100 procedures",
    "Per 100 person-years",
    "By grade",
    "Days to the first",
)
WIDTHS = (1.5, 0.8, 1.3, 0.6, 1.2, 1.2, 1.5, 1.1)


def section(key: str, title: str, rows: Sequence[Burden], about: About) -> Section:
    """Return patients and events by kind, and of any kind by group; the rest is in the file."""
    whole = next(row for row in rows if row.group == ALL)
    if whole.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    kinds = [row for row in rows if row.group == ALL]
    groups = [row for row in rows if row.kind == whole.kind and row.group != ALL]
    return Section(
        key=key,
        title=title,
        sentence=(
            f"{whole.events} events in {whole.patients} of {whole.operated} operated, over {whole.years:.0f} "
            "person-years in which they were seen."
        ),
        tables=(
            _table(key, kinds, "kind", about, tuple(to_rows((*kinds, *groups)))),
            _table("", groups, about.by, about, ()),
        ),
        notes=(
            (
                "Patients: index procedures with at least one. A grade says how much had to be done about it; "
                "days to the first are the median and quartiles of those with one."
            ),
        ),
        methods=("wilson", "poisson"),
        # Groups in which nobody had a kind have no row of it, so that these rows do not add up.
        beside=(
            file_table(
                f"{key}-by-group",
                about.caption(f"Patients and events by kind and {about.by}", ""),
                to_rows(tuple(rows)),
            ),
        ),
    )


def _table(
    name: str, rows: Sequence[Burden], by: str, about: About, data: tuple[dict[str, object], ...]
) -> Table:
    what = "Complications by kind, all groups" if name else f"Any complication by {by}"
    return Table(
        caption=about.caption(
            f"{what}, up to the last time each was seen",
            "Events over procedures, and over person-years until last seen, with the exact Poisson 95% "
            "interval; share of operated with Wilson's",
        ),
        head=(by.capitalize(), *HEAD) if not name else ("Kind", *HEAD),
        rows=tuple(_cells(row, row.name if name else row.group) for row in rows),
        numbers=(1, 3),
        widths=WIDTHS,
        name=name,
        data=data,
        shape=BURDEN if name else None,
        outside=about.caption(f"Patients and events by kind and {about.by}", ""),
    )


def _cells(row: Burden, first: str) -> tuple[str, ...]:
    return (
        first,
        str(row.patients),
        interval(row.share),
        str(row.events),
        per_100(row.per_100),
        per_100(row.per_100_years),
        "; ".join(f"{grade}: {number}" for grade, number in row.grades.items()),
        days(row.quartiles),
    )


def per_100(value: Estimate | None) -> str:
    """Write a rate with its interval; nothing where there is none."""
    return f"{value.estimate:.1f} ({value.low:.1f} to {value.high:.1f})" if value else ""


def days(quartiles: tuple[float, float, float] | None) -> str:
    """Write the median of some days with its quartiles; nothing where there is none."""
    if quartiles is None:
        return ""
    first, median, third = (round(day) for day in quartiles)
    return f"{median} ({first} to {third})"
