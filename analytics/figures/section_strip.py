"""'Does it depend on the rule?' as a section for paper."""

from analytics.answers.outside import STRIP
from analytics.answers.sensitivity import Line, Strip, to_rows
from analytics.figures.section_outcomes import bounds_of, interval
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg import Drawing
from analytics.figures.svg_forests import TOTAL, ForestRow, forest
from analytics.figures.template import INK, Mark

# The definition that stands is filled; the others are open.
STANDS = Mark(INK, "diamond", "solid")
METHOD = (
    "Events over evaluable, all groups, with Wilson's 95% interval; grey bar: from none to all of"
)


def section(key: str, title: str, result: Strip, about: About, own: str = "") -> Section:
    """Return one rate under each definition that ships; `own` is the one that stands."""
    lines = [line for line in result.lines if line.total.rate is not None]
    figures = (Figure(_caption(result, about), _drawing(lines, result.sentence, own)),)
    return Section(
        key=key,
        title=title,
        sentence=result.sentence,
        tables=(_table(key, result, about),) if result.lines else (),
        figures=figures if lines else (),
        methods=("wilson", "bounds"),
    )


def _caption(result: Strip, about: About) -> str:
    return about.caption(
        f"The rate by {result.horizon.name} under each definition",
        f"{METHOD} those not judged; filled: the definition of the pages before",
    )


def _drawing(lines: list[Line], words: str, own: str) -> Drawing:
    rows = [
        ForestRow(
            label=line.definition.id,
            counts=f"{line.total.events}/{line.total.evaluable}",
            estimate=line.total.rate.estimate,
            low=line.total.rate.low,
            high=line.total.rate.high,
            bounds=(line.total.bounds.low, line.total.bounds.high) if line.total.bounds else None,
            mark=STANDS if line.definition.id == own else TOTAL,
        )
        for line in lines
        if line.total.rate is not None
    ]
    return forest(rows, words)


def _table(key: str, result: Strip, about: About) -> Table:
    return Table(
        caption=_caption(result, about),
        head=(
            "Definition",
            "Eligible",
            "Evaluable",
            "Events",
            "Rate, % (95% interval)",
            "Bounds, %",
        ),
        rows=tuple(_cells(line) for line in result.lines),
        numbers=(1, 2, 3),
        widths=(3.6, 0.8, 0.9, 0.8, 1.7, 1.4),
        name=key,
        data=tuple(to_rows(result)),
        shape=STRIP,
        outside=about.caption(f"The rate by {result.horizon.name} under each definition", ""),
    )


def _cells(line: Line) -> tuple[str, ...]:
    total = line.total
    counts = (str(total.eligible), str(total.evaluable), str(total.events))
    label = f"{line.definition.id}: {line.definition.label}"
    return (label, *counts, interval(total.rate) or "nobody evaluable", bounds_of(total.bounds))
