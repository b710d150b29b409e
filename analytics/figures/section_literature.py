"""'What do others report?' as a section for paper: one table of all, one figure an endpoint."""

from collections.abc import Sequence

from analytics.answers.literature import NO_TARGET, Comparison, LiteratureAnswer, to_rows
from analytics.endpoints.catalogue import ON_FILMS
from analytics.figures.comparators import drawing
from analytics.figures.section_outcomes import interval
from analytics.figures.sections import About, Figure, Section, Table, file_table

METHOD = (
    "Grey: published, Wilson's 95% interval; pooled: random-effects logit model; dotted: prediction interval; "
    "from memory: drawn, not pooled"
)
HEAD = (
    "Outcome",
    "Construct",
    "Series",
    "By our rule",
    "Pooled, % (95% interval)",
    "One more unit, %",
    "Ours, % (95% interval)",
)
DETAILS = (
    "How each published count differs from ours in its definition, time and patients is said row by row "
    "in the files of the archive that begin with 'literature'."
)


def section(key: str, title: str, results: Sequence[LiteratureAnswer], about: About) -> Section:
    """Return the published counts of several endpoints beside ours; the words of each are a file."""
    shown = [result for result in results if result.comparisons]
    return Section(
        key=key,
        title=title,
        sentence=NO_TARGET,
        tables=(_table(shown, about),) if shown else (),
        figures=tuple(_figure(result, about) for result in shown),
        notes=_notes(shown),
        methods=("wilson", "pooling"),
        beside=tuple(_details(key, result, about) for result in shown),
    )


def _notes(shown: Sequence[LiteratureAnswer]) -> tuple[str, ...]:
    said = [
        f"The sources contradict, {result.definition.name}: {one.words}"
        for result in shown
        for one in result.contradictions
    ]
    cited = sorted(
        {row.count.citation for result in shown for one in result.comparisons for row in one.rows}
    )
    sources = (f"Sources: {'; '.join(cited)}.",) if cited else ()
    return (DETAILS, *said, *sources)


def _figure(result: LiteratureAnswer, about: About) -> Figure:
    caption = about.caption(
        f"{result.definition.name}: in colour ours by {result.horizon.name}, theirs at their last look",
        METHOD,
        result.definition.label,
    )
    return Figure(caption, drawing(result))


def _table(shown: Sequence[LiteratureAnswer], about: About) -> Table:
    caption = about.caption(
        f"Published series pooled, and ours by {shown[0].horizon.name}",
        "Theirs at the last look, whenever it was; random-effects logit model; where the true rate of one more "
        "unit would lie by its 95% prediction interval; ours with Wilson's",
        "that of each figure below",
    )
    return Table(
        caption=caption,
        head=HEAD,
        rows=tuple(
            (_outcome(result), *_cells(one, result))
            for result in shown
            for one in result.comparisons
        ),
        widths=(1.5, 0.7, 1.2, 0.7, 1.5, 1.1, 1.7),
    )


def _outcome(result: LiteratureAnswer) -> str:
    """Return the name of an outcome that fits a narrow column; the figure has the whole definition."""
    definition = result.definition
    return ON_FILMS.get(definition.endpoint, definition.name)


def _cells(one: Comparison, result: LiteratureAnswer) -> tuple[str, ...]:
    alike = sum(result.definition.id in row.count.like for row in one.rows)
    pooled, further = "too few to pool", ""
    if one.pooled is not None:
        pooled = interval(one.pooled)
        low, high = one.pooled.prediction_low, one.pooled.prediction_high
        # Not a number where there are too few series to tell.
        further = f"{low * 100:.1f} to {high * 100:.1f}" if low == low else "not known"
    counted = f": {one.pooled_events}/{one.pooled_total}" if one.pooled else ""
    ours = "nobody judged"
    if one.local is not None:
        ours = f"{one.local.events}/{one.local.evaluable}: {interval(one.local.rate)}"
    return (
        one.construct or "several",
        f"{len(one.rows)}{counted}",
        f"{alike} of {len(one.rows)}",
        pooled,
        further,
        ours,
    )


def _details(key: str, result: LiteratureAnswer, about: About) -> Table:
    name = f"{key}-{result.definition.endpoint.replace('_', '-')}"
    caption = about.caption(
        f"{result.definition.name}: every published count, and how it differs from ours",
        "",
        result.definition.label,
    )
    return file_table(name, caption, to_rows(result))
