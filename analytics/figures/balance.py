"""Standardised differences as dots about 0, with the line that some authors draw at 0.1."""

import json
import math
from typing import Any

import plotly.graph_objects as go

from analytics.answers.balance import LINE, Comparison, Trait
from analytics.figures.template import INK, SLATE, layout

APART = "#8a3a12"
FURTHEST = 2.0


def dots(found: Comparison, title: str) -> dict[str, Any]:
    """Return the figure as plain JSON values; what cannot be formed is left to the table."""
    drawn = [trait for trait in found.traits if drawable(trait)]
    values = [trait.difference or 0.0 for trait in drawn]
    reach = min(max([0.35, *(abs(value) * 1.15 for value in values)]), FURTHEST)
    figure = go.Figure(
        go.Scatter(
            x=values,
            y=[trait.label for trait in drawn],
            mode="markers",
            marker={
                "color": [APART if trait.apart else SLATE for trait in drawn],
                "symbol": ["square" if trait.apart else "circle-open" for trait in drawn],
                "size": 11,
                "line": {"width": 2},
            },
            customdata=[[trait.one, trait.two] for trait in drawn],
            hovertemplate=(
                f"%{{y}}: {found.one} %{{customdata[0]}}, {found.two} %{{customdata[1]}}; "
                "%{x:.2f}<extra></extra>"
            ),
        )
    )
    for place in (-LINE, LINE):
        figure.add_vline(x=place, line={"color": SLATE, "dash": "dash", "width": 1.5})
    figure.add_vline(x=0, line={"color": INK, "width": 1.5})
    figure.update_layout(
        layout(
            title,
            note=f"Right of 0: more, or older, among those {found.one}. Dashed: {LINE}. "
            "Square: beyond it.",
            height=180 + 28 * max(1, len(drawn)),
            xaxis={
                "title": {"text": "standard deviations apart"},
                "range": [-reach, reach],
            },
            yaxis={"type": "category", "autorange": "reversed", "tickfont": {"size": 13}},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def drawable(trait: Trait) -> bool:
    """Say whether a difference has a place on an axis."""
    return trait.difference is not None and math.isfinite(trait.difference)


def dot_words(found: Comparison) -> str:
    """State in how many characteristics the groups are apart, and which differ most."""
    one, two = found.numbers
    if not found.traits:
        return f"{one} {found.one} and {two} {found.two}: there are not two groups to compare."
    formed = [trait for trait in found.traits if trait.difference is not None]
    apart = sorted(
        (trait for trait in formed if trait.apart), key=lambda trait: -abs(trait.difference or 0)
    )
    if not apart:
        return (
            f"{one} {found.one} and {two} {found.two}: none of {len(formed)} characteristics "
            f"differs by more than {LINE} standard deviations."
        )
    named = "; ".join(
        f"{trait.label}: {trait.one} against {trait.two}, {trait.difference:+.2f}"
        for trait in apart[:4]
    )
    return (
        f"{one} {found.one} and {two} {found.two}: {len(apart)} of {len(formed)} characteristics "
        f"differ by more than {LINE} standard deviations. Most apart: {named}."
    )
