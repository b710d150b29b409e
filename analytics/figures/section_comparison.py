"""'Which construct does better?' as a section for paper: unadjusted, and said to be no more."""

from analytics.answers.comparison import Comparison, to_rows
from analytics.figures.sections import About, Section, Table


def section(key: str, title: str, result: Comparison, about: About) -> Section:
    """Return each group's difference to the reference with its interval."""
    caption = about.caption(
        f"Each group against {result.against} by {result.horizon.name}",
        "Difference in percentage points with Newcombe's 95% interval, and ratio of the rates; "
        "unadjusted",
        result.definition.label,
    )
    rows = tuple(
        (
            one.group,
            f"{one.own.events}/{one.own.evaluable}",
            (
                f"{_points(one.difference.estimate)} "
                f"({_points(one.difference.low)} to {_points(one.difference.high)})"
            ),
            f"{one.ratio.estimate:.2f} ({one.ratio.low:.2f} to {one.ratio.high:.2f})",
        )
        for one in result.contrasts
    )
    table = Table(
        caption=caption,
        head=("Group", "Events", "Difference, points (95% interval)", "Ratio (95% interval)"),
        rows=rows,
        numbers=(1,),
        widths=(1.0, 1.0, 2.4, 2.4),
        name=key,
        data=tuple(to_rows(result)),
    )
    return Section(
        key, title, result.sentence, (table,) if rows else (), methods=("wilson", "newcombe")
    )


def _points(share: float) -> str:
    return f"{share * 100:+.1f}"
