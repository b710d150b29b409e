"""'What do others report?' as a section for paper: one figure and one table for each endpoint."""

from collections.abc import Sequence

from analytics.answers.literature import NO_TARGET, LiteratureAnswer, to_rows
from analytics.figures.comparators import drawing
from analytics.figures.sections import About, Figure, Section, Table

METHOD = (
    "Grey: published events over patients with Wilson's 95% interval; pooled by a random-effects "
    "logit model, dotted: prediction interval; from memory: drawn, not pooled. In colour: ours"
)


def section(key: str, title: str, results: Sequence[LiteratureAnswer], about: About) -> Section:
    """Return the published counts of several endpoints beside ours, with how each differs."""
    shown = [result for result in results if result.comparisons]
    notes = [
        f"The sources contradict, {result.definition.name}: {one.words}"
        for result in shown
        for one in result.contradictions
    ]
    return Section(
        key=key,
        title=title,
        sentence=NO_TARGET,
        tables=tuple(_table(key, result, about) for result in shown),
        figures=tuple(_figure(result, about) for result in shown),
        notes=tuple(notes),
        methods=("wilson", "pooling"),
        paired=True,
    )


def _figure(result: LiteratureAnswer, about: About) -> Figure:
    caption = about.caption(
        f"{result.definition.name}: ours by {result.horizon.name}, theirs at their last look",
        METHOD,
        result.definition.label,
    )
    return Figure(caption, drawing(result))


def _table(key: str, result: LiteratureAnswer, about: About) -> Table:
    caption = about.caption(
        f"{result.definition.name}: how the published counts differ from ours",
        f"All of theirs are at the last look, whenever it was; ours by {result.horizon.name}",
        result.definition.label,
    )
    return Table(
        caption=caption,
        head=("Construct", "Source", "Count", "How it differs"),
        rows=tuple(
            (
                one.construct or "several",
                row.count.citation,
                f"{row.count.events}/{row.count.total}",
                " ".join(words for words in row.differences if words != row.time),
            )
            for one in result.comparisons
            for row in one.rows
        ),
        name=f"{key}-{result.definition.endpoint.replace('_', '-')}",
        widths=(0.8, 1.7, 0.6, 3.6),
        data=tuple(to_rows(result)),
    )
