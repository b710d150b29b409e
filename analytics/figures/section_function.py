"""'How do they move and feel?' as a section for paper: each measure at the horizon, all groups."""

from collections.abc import Sequence

from analytics.answers.function import StepRow
from analytics.answers.measures import Measure
from analytics.figures.function import middle
from analytics.figures.sections import About, Section, Table

HEAD = ("Measure", "Eligible", "Measured", "Median (quartiles)", "Acceptable")


def section(
    key: str, title: str, rows: Sequence[tuple[Measure, StepRow]], horizon: str, about: About
) -> Section:
    """Return the median and quartiles of each measure, with how many have it."""
    if not rows:
        return Section(key, title, "No motion and no score is recorded in this cohort.")
    least = min(row.number / row.eligible if row.eligible else 0.0 for _, row in rows)
    table = Table(
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
    sentence = (
        f"{len(rows)} measures at {horizon}. Of the one that is measured least, {least * 100:.0f}% of "
        "those eligible have a value: whoever has none may fare otherwise."
    )
    return Section(key, title, sentence, (table,))


def _cells(one: Measure, row: StepRow) -> tuple[str, str, str, str]:
    good = row.acceptable
    share = f"{good.number}/{good.of}" if good else ""
    return (str(row.eligible), str(row.number), middle(one, row), share)
