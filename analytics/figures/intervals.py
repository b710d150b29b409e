"""When it happened beside when it was found: one small figure a group, all on one scale."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.outcomes import ALL
from analytics.answers.timing import Course, Timing
from analytics.figures.curves import DAYS_A_MONTH, LAST_DAY, TICKS
from analytics.figures.template import INK, RULE, SLATE, layout, mark_for, pale

# Panels share what fits on a printed page.
ROW_PX, PANELS_PX, TOP_PX, BOTTOM_PX = 190, 780, 120, 70
SPACE = 0.24


def intervals(found: Timing) -> dict[str, Any]:
    """Return the figure as plain JSON values; groups without a curve are left out."""
    drawn = drawn_of(found)
    groups = [one.group for one in found.courses]
    top = top_of(drawn)
    figure, axes, notes = go.Figure(), {}, []
    height = 1 / max(1, len(drawn))
    for place, course in enumerate(drawn):
        name = "" if place == 0 else str(place + 1)
        ceiling = 1 - place * height
        axes[f"yaxis{name}"] = {
            "domain": [ceiling - height * (1 - SPACE), ceiling],
            "range": [0, top],
            "ticksuffix": "%",
            "gridcolor": RULE,
            "nticks": 4,
            "zeroline": False,
        }
        _panel(figure, course, groups, f"y{name}")
        notes.append(_heading(course, ceiling))
    figure.update_layout(
        layout(
            f"When it happened, and when it was found: {found.definition.name}",
            note="Band and solid lines: happened, at least and at most. Dashes: found.",
            height=TOP_PX + BOTTOM_PX + min(ROW_PX * max(1, len(drawn)), PANELS_PX),
            margin={"l": 56},
            xaxis={
                "title": {"text": "months since the operation"},
                "tickvals": list(TICKS),
                "range": [0, last_month(drawn)],
                "anchor": f"y{len(drawn)}" if len(drawn) > 1 else "y",
            },
            annotations=notes,
            **axes,
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def drawn_of(found: Timing) -> list[Course]:
    """Return the courses that have a curve: all groups together, then each."""
    every = (*([found.total] if found.total else ()), *found.courses)
    return [one for one in every if one.stops_at > 0]


def top_of(drawn: list[Course]) -> float:
    """Return how high the axis that all panels share has to be, in per cent."""
    shares = (share for one in drawn for share in (*one.share, *one.found_share))
    return max([0.05, *shares]) * 108


def _panel(figure: go.Figure, course: Course, groups: list[str], axis: str) -> None:
    total = course.group == ALL
    colour = INK if total else mark_for(course.group, groups).colour
    fill = "rgba(29,27,24,0.14)" if total else pale(colour)
    end = min(course.stops_at, LAST_DAY)
    for days, words, filled in (
        (course.least_days, "at least", None),
        (course.most_days, "at most", "tonexty"),
    ):
        months, shares = steps_of(days, course.share, end)
        figure.add_trace(
            go.Scatter(
                x=months,
                y=shares,
                yaxis=axis,
                mode="lines",
                line={"color": colour, "width": 2, "shape": "hv"},
                fill=filled,
                fillcolor=fill,
                hovertemplate=f"{course.group}, happened {words}: %{{y:.1f}}%<extra></extra>",
            )
        )
    months, shares = steps_of(course.found_days, course.found_share, end)
    figure.add_trace(
        go.Scatter(
            x=months,
            y=shares,
            yaxis=axis,
            mode="lines",
            line={"color": SLATE, "width": 2, "dash": "dash", "shape": "hv"},
            hovertemplate=f"{course.group}, found: %{{y:.1f}}%<extra></extra>",
        )
    )


def steps_of(
    days: tuple[float, ...], shares: tuple[float, ...], end: float
) -> tuple[list[float], list[float]]:
    """Return a curve from 0 to its end: months, and shares in per cent."""
    kept = [(day, share) for day, share in zip(days, shares, strict=True) if day <= end]
    last = kept[-1][1] if kept else 0.0
    points = [(0.0, 0.0), *kept, (end, last)]
    return [day / DAYS_A_MONTH for day, _ in points], [share * 100 for _, share in points]


def _heading(course: Course, ceiling: float) -> dict[str, Any]:
    return {
        "x": 0,
        "xref": "paper",
        "xanchor": "left",
        "y": ceiling,
        "yref": "paper",
        "yanchor": "bottom",
        "text": f"<b>{course.group}</b>  {course.events} of {course.subjects}",
        "showarrow": False,
        "font": {"size": 13},
    }


def last_month(drawn: list[Course]) -> float:
    """Return where the axis that all panels share ends."""
    ends = [min(one.stops_at, LAST_DAY) / DAYS_A_MONTH * 1.02 for one in drawn]
    return max([TICKS[2] + 0.5, *ends])
