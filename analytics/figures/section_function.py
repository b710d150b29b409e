"""'How do they move and feel?' as a section for paper: each measure over time and at the horizon."""

from collections.abc import Sequence

from analytics.answers.function import ChangeRow, FunctionAnswer, StepRow, to_rows
from analytics.answers.measures import Measure
from analytics.answers.outcomes import ALL
from analytics.figures.function import middle
from analytics.figures.sections import About, Figure, Section, Table, file_table
from analytics.figures.svg_bars import level_bars
from analytics.figures.svg_function import small_plots

HEAD = ("Measure", "Eligible", "Measured", "Median (quartiles)", "Acceptable")
CHANGES = (
    "Measure",
    "Pairs",
    "First one",
    "Median change (95% interval)",
    "Higher",
    "Same",
    "Lower",
)


def section(
    key: str, title: str, found: Sequence[FunctionAnswer], least: int, about: About
) -> Section:
    """Return every measure over time by group, at the horizon, and its change; all rows are files.

    Groups of fewer than `least` are not drawn.
    """
    rows = [(one.measure, row) for one in found if (row := one.at(one.horizon.code)) is not None]
    if not rows:
        return Section(key, title, "No motion and no score is recorded in this cohort.")
    horizon = found[0].horizon.name
    shares = [row.number / row.eligible if row.eligible else 0.0 for _, row in rows]
    return Section(
        key=key,
        title=title,
        sentence=(
            f"{len(rows)} measures at {horizon}. Of the one that is measured least, {min(shares) * 100:.0f}% of "
            "those eligible have a value: whoever has none may fare otherwise."
        ),
        tables=(_table(key, rows, horizon, about), _changes(key, found, horizon, about)),
        figures=_figures(found, least, about),
        methods=("change",),
        beside=tuple(_file(key, one, about) for one in found),
    )


def _figures(found: Sequence[FunctionAnswer], least: int, about: About) -> tuple[Figure, ...]:
    figures = []
    values = [one for one in found if one.measure.kind != "level"]
    if values:
        caption = about.caption(
            f"Motion and scores over time, by {about.by}",
            "Mark: median of those measured; bar: the middle half; groups of fewer than "
            f"{least} at a step are not drawn; how many were measured is in the files",
        )
        figures.append(Figure(caption, small_plots(values, least)))
    for one in found:
        if one.measure.kind == "level" and any(row.number for row in one.shown):
            caption = about.caption(
                f"{one.measure.name}: {one.measure.direction}",
                "All groups; from the lowest, dark, to the highest, light; numbers of exams before and in the bars",
            )
            figures.append(Figure(caption, level_bars(one)))
    return tuple(figures)


def _table(key: str, rows: Sequence[tuple[Measure, StepRow]], horizon: str, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"Motion and scores at {horizon}, all groups",
            "Median with quartiles of those measured; acceptable: as many of those measured reach "
            "the published acceptable state, where there is one",
        ),
        head=HEAD,
        rows=tuple((f"{one.name}: {one.direction}", *_cells(one, row)) for one, row in rows),
        numbers=(1, 2),
        widths=(3.6, 0.8, 0.9, 1.8, 1.0),
        name=key,
        data=tuple(
            {"measure": one.name, "eligible": row.eligible, "measured": row.number}
            | dict(zip(("median_quartiles", "acceptable"), _cells(one, row)[2:], strict=True))
            for one, row in rows
        ),
    )


def _cells(one: Measure, row: StepRow) -> tuple[str, str, str, str]:
    good = row.acceptable
    share = f"{good.number}/{good.of}" if good else ""
    return (str(row.eligible), str(row.number), middle(one, row), share)


def _changes(key: str, found: Sequence[FunctionAnswer], horizon: str, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"Change within people up to {horizon}, all groups",
            "Pairs have a value on an earlier day and one at the horizon; the interval is that of the sign test",
        ),
        head=CHANGES,
        rows=tuple(
            _change(one.measure, row) for one in found for row in one.changes if row.group == ALL
        ),
        numbers=(1, 4, 5, 6),
        widths=(2.2, 0.7, 1.0, 2.0, 0.8, 0.7, 0.8),
    )


def _change(measure: Measure, row: ChangeRow) -> tuple[str, ...]:
    words = "levels have no distance" if measure.kind == "level" else "no pairs"
    if row.change is not None:
        words = f"{round(row.change.median, 1):+g}{measure.unit}"
        low, high = row.change.low, row.change.high
        known = low is not None and high is not None
        words += f" ({low:+.3g} to {high:+.3g})" if known else " (too few pairs)"
    first = f"day {row.first_day:.0f}" if row.first_day is not None else ""
    return (measure.name, str(row.pairs), first, words, *map(str, (row.rose, row.same, row.fell)))


def _file(key: str, one: FunctionAnswer, about: About) -> Table:
    caption = about.caption(f"{one.measure.name} ({one.measure.direction}), by {about.by}", "")
    return file_table(f"{key}-{one.measure.code.replace('_', '-')}", caption, to_rows(one))
