"""'Did it hold?' as a section for paper."""

from analytics.answers.outcomes import ALL, Answer, GroupRow, to_rows
from analytics.answers.outside import RATES
from analytics.endpoints.definition import REASONS
from analytics.estimators.pooling import PooledShare
from analytics.estimators.results import Bounds, Estimate
from analytics.figures import svg_curves, svg_forests
from analytics.figures.curves import MOST_BANDS
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.words import curve_words, forest_words

COUNTS = (
    ("operated", "Operated"),
    ("eligible", "Eligible"),
    ("evaluable", "Evaluable"),
    ("events", "Events"),
    ("competing", "Other event first"),
    ("not_evaluable", "Not judged"),
)
HEAD = ("Rate, % (95% interval)", "If none or all not judged had it, %", "Cumulative incidence, %")
WIDTHS = (0.9, *(0.82 for _ in COUNTS), 1.6, 1.3, 1.6)
METHODS = ("wilson", "bounds", "incidence", "detection")


def section(key: str, title: str, result: Answer, about: About) -> Section:
    """Return an endpoint's rates and curves with captions that say how they were made."""
    if result.total.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    definition = result.definition
    notes = [f"{definition.label}: {definition.text} Source: {definition.source}."]
    if not result.total.events:
        notes.append("No curve is drawn: nobody had the event.")
    return Section(
        key=key,
        title=title,
        sentence=result.sentence,
        tables=(rates_table(key, result, about), *_reasons(result, about)),
        figures=figures(result, about),
        notes=tuple(notes),
        methods=METHODS,
    )


def rates_table(key: str, result: Answer, about: About) -> Table:
    """Return the table of rates: denominators, rate, bounds and incidence, a line for each group."""
    caption = about.caption(
        f"Rates by {result.horizon.name}, by {about.by}",
        "Events over evaluable with Wilson's 95% interval; bounds for those not judged; cumulative "
        "incidence with competing events where enough remain at risk",
        result.definition.label,
    )
    rows = (*result.rows, result.total)
    return Table(
        caption=caption,
        head=("Group", *(label for _, label in COUNTS), *HEAD),
        rows=tuple(_cells(row) for row in rows),
        numbers=tuple(range(1, 1 + len(COUNTS))),
        name=key,
        widths=WIDTHS,
        data=tuple(to_rows(result)),
        shape=RATES,
        outside=about.caption(
            f"Rates by {result.horizon.name}, by {about.by}",
            f"The rule says: {result.definition.text}",
            result.definition.label,
        ),
    )


def figures(result: Answer, about: About) -> tuple[Figure, ...]:
    """Return the forest of rates and the curves, where there is something to draw."""
    found = []
    rows = svg_forests.of_answer(result)
    if rows:
        caption = about.caption(
            f"{result.definition.name}, by {result.horizon.name}",
            "Point and line: rate with Wilson's 95% interval; grey bar: from none to all of those "
            "not judged",
            result.definition.label,
        )
        found.append(Figure(caption, svg_forests.forest(rows, forest_words(result))))
    lines = svg_curves.of_answer(result)
    if lines and result.total.events:
        shaded = " Shaded: 95% interval." if len(lines) <= MOST_BANDS else ""
        caption = about.caption(
            f"Cumulative incidence of: {result.definition.name}",
            "Aalen and Johansen's estimate by the day of detection, revision and death competing; "
            f"each curve ends where fewer than {result.min_at_risk} remain at risk.{shaded}",
            result.definition.label,
        )
        found.append(Figure(caption, svg_curves.step_curves(lines, curve_words(result))))
    return tuple(found)


def _cells(row: GroupRow) -> tuple[str, ...]:
    return (
        "all" if row.group == ALL else row.group,
        *(str(getattr(row, name)) for name, _ in COUNTS),
        interval(row.rate) or "nobody evaluable",
        bounds_of(row.bounds),
        interval(row.incidence.estimate) or "too few at risk",
    )


def interval(found: Estimate | PooledShare | None) -> str:
    """Write an estimate with its interval in per cent; nothing where there is none."""
    if found is None:
        return ""
    share, low, high = (f"{value * 100:.1f}" for value in (found.estimate, found.low, found.high))
    return f"{share} ({low} to {high})"


def bounds_of(found: Bounds | None) -> str:
    """Write in per cent what those not judged could make of a rate; nothing where there is none."""
    return "" if found is None else f"{found.low * 100:.1f} to {found.high * 100:.1f}"


def _reasons(result: Answer, about: About) -> tuple[Table, ...]:
    total = result.total
    if not total.reasons:
        return ()
    rows = tuple((REASONS[code], str(number)) for code, number in total.reasons.items())
    caption = about.caption(
        f"Why {total.not_evaluable} of {total.eligible} eligible could not be judged",
        "",
        result.definition.label,
    )
    return (Table(caption, ("Reason", "Cases"), rows, (1,)),)
