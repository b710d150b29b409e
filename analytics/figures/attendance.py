"""How planned reviews ended at each step: one bar a step, told apart by pattern and by shade."""

import json
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from analytics.answers.attendance import Line
from analytics.answers.outcomes import percent
from analytics.figures.template import INK, PAPER, SLATE, layout


@dataclass(frozen=True)
class Fate:
    """Ways of ending that are drawn as one part of the bar."""

    words: str
    ways: tuple[str, ...]
    colour: str
    pattern: str

    def of(self, line: Line) -> int:
        """How many reviews of a line ended so."""
        return sum(line.counts[way] for way in self.ways)


FATES = (
    Fate("done in window", ("done_in_window",), SLATE, ""),
    Fate("done outside it", ("done_outside",), SLATE, "/"),
    Fate("missed or lapsed", ("missed", "lapsed"), "#8a3a12", "x"),
    Fate("withdrew or moved", ("withdrawal", "moved"), "#8a3a12", "."),
    Fate(
        "not to be held any more",
        ("death", "revision", "removal", "protocol", "not_needed"),
        "#9a9184",
        "",
    ),
    Fate("open", ("open",), "#9a9184", "-"),
)


def bars(lines: tuple[Line, ...]) -> dict[str, Any]:
    """Return the figure as plain JSON values; the last line, of all, is left to the table."""
    steps = [line for line in lines[:-1] if line.planned]
    figure = go.Figure()
    for fate in FATES:
        numbers = [fate.of(line) for line in steps]
        figure.add_trace(
            go.Bar(
                x=[100 * n / line.planned for n, line in zip(numbers, steps, strict=True)],
                y=[_label(line) for line in steps],
                orientation="h",
                name=fate.words,
                # A number that does not fit its part would be shrunk beyond reading.
                text=[
                    str(n) if n >= line.planned * 0.035 else ""
                    for n, line in zip(numbers, steps, strict=True)
                ],
                textposition="inside",
                textangle=0,
                insidetextanchor="middle",
                insidetextfont={"color": INK if fate.pattern else "#ffffff", "size": 12},
                marker={
                    "color": fate.colour,
                    "line": {"color": INK, "width": 1},
                    "pattern": {
                        "shape": fate.pattern,
                        "fgcolor": fate.colour,
                        "bgcolor": PAPER,
                        "size": 7,
                        "solidity": 0.25,
                    },
                },
                customdata=numbers,
                hovertemplate=f"%{{y}}: %{{customdata}} {fate.words} (%{{x:.1f}}%)<extra></extra>",
            )
        )
    figure.update_layout(
        layout(
            "How planned reviews ended, by step",
            note="Numbers of reviews in the bars; the bar is all that were planned.",
            height=280 + 40 * len(steps),
            barmode="stack",
            bargap=0.25,
            showlegend=True,
            legend={
                "orientation": "h",
                "traceorder": "normal",
                "x": 0,
                "xanchor": "left",
                "y": 0,
                "yanchor": "bottom",
                "yref": "container",
                "font": {"size": 12},
            },
            margin={"b": 120},
            xaxis={"range": [0, 100], "ticksuffix": "%"},
            yaxis={"type": "category", "autorange": "reversed", "showgrid": False},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _label(line: Line) -> str:
    return f"<b>{line.label}</b>  {line.planned}"


def bar_words(lines: tuple[Line, ...]) -> str:
    """State for each step how many of those planned were done in window, and how many not at all."""
    parts = []
    for line in lines[:-1]:
        done, outside = line.counts["done_in_window"], line.counts["done_outside"]
        away = FATES[2].of(line) + FATES[3].of(line)
        share = f" ({percent(done / line.planned)})" if line.planned else ""
        parts.append(
            f"{line.label}: {done} of {line.planned} planned done in window{share}, "
            f"{outside} outside it, {away} missed, lapsed or closed by leaving"
        )
    return "; ".join(parts) + "." if parts else "No review was planned in this cohort."
