"""'How much more would we need?' as a section for paper: the expected interval and the power."""

from analytics.answers.enough import EnoughAnswer, Side, Year, to_rows
from analytics.answers.outcomes import percent
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_enough import ahead

NOTE = (
    "The two groups with the most judged cases, at the rates as observed and the volume of the last two years. "
    "A rate seen in few cases is itself uncertain, and to ask about the difference just seen repeats what "
    "its interval says already: on the page, type the difference that would change what you do."
)


def section(key: str, title: str, found: EnoughAnswer, definition: str, about: About) -> Section:
    """Return what is supposed of two groups, and what the years ahead would tell of them."""
    return Section(
        key=key,
        title=title,
        sentence=found.sentence,
        tables=(
            _sides(found, definition, about),
            *((_years(key, found, definition, about),) if found.years else ()),
        ),
        figures=(_figure(found, definition, about),) if found.years else (),
        notes=(NOTE,),
        methods=("precision",),
    )


def _figure(found: EnoughAnswer, definition: str, about: About) -> Figure:
    caption = about.caption(
        f"{found.one.group} and {found.other.group}: what more years would tell",
        "Left: the 95% interval of the difference to expect, its width in points above it. Right: the share of "
        "such services whose interval would leave out 0",
        definition,
    )
    return Figure(caption, ahead(found))


def _sides(found: EnoughAnswer, definition: str, about: About) -> Table:
    return Table(
        caption=about.caption("What is supposed", "", definition),
        head=(
            "Group",
            "Events of judged",
            "Eligible",
            "Rate supposed",
            "Operated a year",
            "Judged a year",
        ),
        rows=tuple(_side(side) for side in (found.one, found.other)),
        numbers=(1, 2, 3, 4, 5),
        widths=(1.0, 1.2, 0.9, 1.2, 1.2, 1.2),
    )


def _side(side: Side) -> tuple[str, ...]:
    return (
        side.group,
        f"{side.events} of {side.evaluable}",
        str(side.eligible),
        "not known" if side.rate is None else percent(side.rate),
        f"{side.operated_a_year:.1f}",
        f"{side.a_year:.1f}",
    )


def _years(key: str, found: EnoughAnswer, definition: str, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"{found.one.group} less {found.other.group} after more years",
            "Expected 95% interval of the difference and its width; power: how often it would leave out 0",
            definition,
        ),
        head=(
            "More years",
            f"Judged, {found.one.group}",
            f"Judged, {found.other.group}",
            "Expected interval",
            "Width, points",
            "Power",
        ),
        rows=tuple(_year(year) for year in found.years),
        numbers=(0, 1, 2, 4, 5),
        widths=(0.9, 1.0, 1.0, 1.8, 1.0, 0.8),
        name=key,
        data=tuple(to_rows(found)),
    )


def _year(year: Year) -> tuple[str, ...]:
    ends = f"{percent(year.interval.low)} to {percent(year.interval.high)}"
    counts = (str(year.one), str(year.other))
    return (str(year.years), *counts, ends, f"{year.width * 100:.1f}", percent(year.power))
