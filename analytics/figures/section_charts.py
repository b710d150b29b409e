"""'What do the running charts say?' as a section for paper: each chart with its design and its cost."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from analytics.answers.running import Reading
from analytics.figures.charts import ChartFacts, tuning_words
from analytics.figures.sections import Figure, Section, Table, file_table
from analytics.figures.svg_charts import chart_drawing

HEAD = ("Chart", "Cases", "Events", "Expected", "Sum now", "Limit", "Reached it")


@dataclass(frozen=True)
class Watched:
    """One chart: its facts, its reading, and what its caption says of definition and expected risk.

    `expected` has the risk of each case, `rows` its cases as they are taken away.
    """

    name: str
    facts: ChartFacts
    reading: Reading
    definition: str
    basis: str
    expected: Sequence[float]
    rows: Sequence[dict[str, Any]]


def section(
    key: str, title: str, charts: Sequence[Watched], off: Sequence[str], cutoff: date
) -> Section:
    """Return each running chart; `off` are the sites whose policy has none switched on."""
    notes = (
        (f"Running charts are off at {', '.join(off)}: no written policy has them on.",)
        if off
        else ()
    )
    if not charts:
        words = "No running chart is fixed at these sites."
        return Section(key, title, words, notes=notes)
    crossed = [one.name for one in charts if one.reading.crossings]
    said = f"{len(crossed)} of {len(charts)} charts have reached their limit"
    return Section(
        key=key,
        title=title,
        sentence=(
            f"{said}{': ' if crossed else ''}{'; '.join(crossed)}. A signal asks somebody to look, at the data "
            "first; it is no verdict."
        ),
        tables=(_table(key, charts, cutoff),),
        figures=tuple(_figure(one, cutoff) for one in charts if one.reading.path),
        notes=(*notes, *_empty(charts)),
        methods=("cusum",),
        beside=tuple(
            file_table(
                f"{key}-{number}", f"{one.name}: its cases up to {cutoff:%d %b %Y}.", one.rows
            )
            for number, one in enumerate(charts, 1)
        ),
    )


def _empty(charts: Sequence[Watched]) -> tuple[str, ...]:
    none = [one.name for one in charts if not one.reading.path]
    return (f"No case has settled since these began: {'; '.join(none)}.",) if none else ()


def _figure(one: Watched, cutoff: date) -> Figure:
    caption = (
        f"{one.name}. {tuning_words(one.facts)} Filled: the event; cross: the limit was reached. Sum of "
        f"log-likelihood ratios; expected: {one.basis}. Definition: {one.definition}. Cohort: all that "
        f"settled since the chart began. Data up to {cutoff:%d %b %Y}."
    )
    return Figure(caption, chart_drawing(one.reading, one.facts))


def _table(key: str, charts: Sequence[Watched], cutoff: date) -> Table:
    return Table(
        caption=(
            f"Running charts, each with the cases that had settled by {cutoff:%d %b %Y}; expected by the risk that "
            "was fixed with its design."
        ),
        head=HEAD,
        rows=tuple(_cells(one) for one in charts),
        numbers=(1, 2, 3, 4, 5),
        widths=(3.0, 0.7, 0.8, 0.9, 0.9, 0.8, 1.4),
        name=key,
        data=tuple(_plain(one) for one in charts),
    )


def _cells(one: Watched) -> tuple[str, ...]:
    reached = ", ".join(f"case {found.position + 1}" for found in one.reading.crossings)
    return (
        one.name,
        str(one.facts.cases),
        str(one.facts.events),
        f"{sum(one.expected):.1f}",
        f"{one.reading.now:.2f}",
        f"{one.facts.limit:.2f}",
        reached or "no",
    )


def _plain(one: Watched) -> dict[str, Any]:
    return {
        "chart": one.name,
        "cases": one.facts.cases,
        "events": one.facts.events,
        "expected": float(sum(one.expected)),
        "sum_now": one.reading.now,
        "limit": one.facts.limit,
        "odds_ratio": one.facts.odds_ratio,
        "cases_to_a_false_alarm": one.facts.false_alarm,
        "cases_to_a_true_one": one.facts.delay,
        "reached_at": " ".join(str(found.position + 1) for found in one.reading.crossings),
    }
