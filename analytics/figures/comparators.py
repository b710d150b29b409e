"""Published counts in grey beside our own rate, by construct: counts with intervals, no targets."""

import json
from dataclasses import replace
from textwrap import shorten
from typing import Any

import plotly.graph_objects as go

from analytics.answers.literature import Comparison, LiteratureAnswer, percent
from analytics.figures.svg import Drawing
from analytics.figures.svg_forests import PUBLISHED, TOTAL, ForestRow, forest
from analytics.figures.template import RULE, Mark, layout, mark_for

# Beside an uneven row of other things a citation that is cut short still finds its source below.
MOST_LETTERS = 34
POOLED = Mark("#4a4a4a", "diamond-open", "solid")
# Lines stand closer on paper, where there are many of them.
CLOSE = 12.0


def rows_of(result: LiteratureAnswer) -> list[ForestRow]:
    """Return the lines: for each construct a heading, ours, the published ones, and the pooled one."""
    groups = [one.construct for one in result.comparisons if one.construct]
    rows: list[ForestRow] = []
    for one in result.comparisons:
        rows += _of_construct(one, groups)
    return rows


def _of_construct(one: Comparison, groups: list[str]) -> list[ForestRow]:
    rows = [ForestRow(one.construct or "several constructs together")]
    if one.local is not None:
        local = one.local
        mark = mark_for(one.construct, groups) if one.construct else TOTAL
        counts = f"{local.events}/{local.evaluable}"
        rate = local.rate
        rows.append(ForestRow("ours", counts, rate.estimate, rate.low, rate.high, mark=mark))
    for row in one.rows:
        count, rate = row.count, row.rate
        marked = {"memory": " (memory)", "inferred": " (inferred)"}.get(count.status, "")
        rows.append(
            ForestRow(
                label=shorten(count.citation, MOST_LETTERS - len(marked), placeholder="...")
                + marked,
                counts=f"{count.events}/{count.total}",
                estimate=rate.estimate,
                low=rate.low,
                high=rate.high,
                mark=PUBLISHED,
            )
        )
    if one.pooled is not None:
        pooled = one.pooled
        known = pooled.prediction_low == pooled.prediction_low
        rows.append(
            ForestRow(
                label="pooled",
                counts=f"{one.pooled_events}/{one.pooled_total}",
                estimate=pooled.estimate,
                low=pooled.low,
                high=pooled.high,
                further=(pooled.prediction_low, pooled.prediction_high) if known else None,
                mark=POOLED,
            )
        )
    return rows


def words(result: LiteratureAnswer) -> str:
    """State for each construct what was pooled and what is ours."""
    parts = [
        f"{one.construct or 'Several constructs together'}: {one.sentence}"
        for one in result.comparisons
    ]
    if not parts:
        return "There is nothing published to draw for this endpoint."
    return " ".join(["Grey: published counts, no targets.", *parts])


def drawing(result: LiteratureAnswer) -> Drawing:
    """Draw it for paper."""
    rows: list[ForestRow] = []
    groups = [one.construct for one in result.comparisons if one.construct]
    for one in result.comparisons:
        heading, *others = _of_construct(one, groups)
        if one.local is not None:
            # The line of ours bears the name, so that no line is lost to a heading.
            rows.append(replace(others.pop(0), label=f"{heading.label}: ours"))
        else:
            rows.append(heading)
        rows += others
    return forest(rows, words(result), each=CLOSE)


def comparators(result: LiteratureAnswer) -> dict[str, Any]:
    """Return the figure as plain JSON values, as the page shows it."""
    rows = rows_of(result)
    figure = go.Figure()
    places = [len(rows) - 1 - place for place in range(len(rows))]
    for row, place in zip(rows, places, strict=True):
        if row.estimate is not None:
            _line(figure, row, place)
    figure.update_layout(
        layout(
            f"What others report: {result.definition.name}",
            note="Grey: published counts with 95% intervals, not targets. Dotted: where one more "
            "unit's true rate would lie.",
            height=170 + 30 * max(1, len(rows)),
            xaxis={"title": {"text": "rate, %"}, "rangemode": "tozero", "ticksuffix": "%"},
            yaxis={
                "showgrid": False,
                "tickvals": places,
                "ticktext": [_label(row) for row in rows],
                "range": [-0.6, len(rows) - 0.4],
            },
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _label(row: ForestRow) -> str:
    if row.estimate is None:
        return f"<b>{row.label}</b>"
    return f"{row.label}  {row.counts}"


def _line(figure: go.Figure, row: ForestRow, place: int) -> None:
    share = (row.estimate or 0.0) * 100
    if row.further is not None:
        figure.add_trace(
            go.Scatter(
                x=[row.further[0] * 100, row.further[1] * 100],
                y=[place, place],
                mode="lines",
                line={"color": row.mark.colour, "dash": "dot", "width": 1.5},
                hoverinfo="skip",
            )
        )
    figure.add_trace(
        go.Scatter(
            x=[share],
            y=[place],
            mode="markers",
            marker={
                "color": row.mark.colour,
                "symbol": row.mark.symbol,
                "size": 11,
                "line": {"color": RULE, "width": 0},
            },
            error_x={
                "type": "data",
                "symmetric": False,
                "array": [row.high * 100 - share],
                "arrayminus": [share - row.low * 100],
                "color": row.mark.colour,
                "thickness": 2,
                "width": 5,
            },
            hovertemplate=(
                f"{row.label}: {row.counts}, {percent(row.estimate or 0.0)} "
                f"({percent(row.low)} to {percent(row.high)})<extra></extra>"
            ),
        )
    )
