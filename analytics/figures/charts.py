"""A running chart: the evidence case by case, its limit, and what that limit costs, on the figure."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import plotly.graph_objects as go

from analytics.answers.running import Reading
from analytics.figures.template import INK, PAPER, SLATE, layout

RUST, BLUE = "#D55E00", "#0072B2"


@dataclass(frozen=True)
class ChartFacts:
    """What is printed on a chart: what it is of, what it watches for, and what its limit costs.

    `days` and `outcomes` are those of its cases, in their order; the outcome of a place whose case was
    withdrawn is None.
    """

    title: str
    odds_ratio: float
    limit: float
    false_alarm: float
    delay: float
    days: Sequence[date]
    outcomes: Sequence[bool | None]

    @property
    def cases(self) -> int:
        """How many cases it holds, without those that were withdrawn."""
        return sum(one is not None for one in self.outcomes)

    @property
    def events(self) -> int:
        """How many of them had the event."""
        return sum(bool(one) for one in self.outcomes)


def tuning_words(facts: ChartFacts) -> str:
    """Say what the chart watches for, and how often it would be wrong or late."""
    change = (
        f"odds that are {facts.odds_ratio:g} times"
        if facts.odds_ratio > 1
        else f"odds that fall to {facts.odds_ratio:g} of"
    )
    return (
        f"Watches for {change} those expected. False alarm: once in {facts.false_alarm:.0f} cases on "
        f"average where nothing has changed. A true change is found after {facts.delay:.0f} cases "
        "on average."
    )


def chart_figure(reading: Reading, facts: ChartFacts) -> dict[str, Any]:
    """Return the figure as plain JSON values; a run begins at 0 after each crossing."""
    figure = go.Figure()
    begins = 0
    ends = [one.position for one in reading.crossings]
    for end in [*ends, len(reading.path) - 1]:
        if end >= begins:
            _run(figure, reading, facts, begins, end)
        begins = end + 1
    _events(figure, reading, facts)
    _crossings(figure, reading, facts)
    top = max([facts.limit, *reading.path]) * 1.18
    last = max(10, len(reading.path) + 1)
    _limit_line(figure, facts, last)
    figure.update_layout(
        layout(
            facts.title,
            note=f"{tuning_words(facts)} Filled: the event happened.",
            height=460,
            margin={"r": 50, "b": 64},
            xaxis={"title": {"text": "cases in the order of operation"}, "range": [0, last]},
            yaxis={"title": {"text": "evidence of a change"}, "range": [0, top]},
            annotations=[
                {
                    "x": last,
                    "y": facts.limit,
                    "text": "limit",
                    "showarrow": False,
                    "xanchor": "left",
                    "xshift": 3,
                    "font": {"size": 13},
                }
            ],
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def chart_words(reading: Reading, facts: ChartFacts) -> str:
    """State how the chart stands, where it crossed, and what its limit costs."""
    if not facts.cases:
        return f"No case has settled since this chart began. {tuning_words(facts)}"
    stands = (
        f"{facts.cases} cases from {facts.days[0]:%d %b %Y} to {max(facts.days):%d %b %Y}, "
        f"{facts.events} with the event. The sum stands at {reading.now:.2f}; the limit is "
        f"{facts.limit:.2f}."
    )
    if not reading.crossings:
        return f"{stands} The chart has not reached its limit. {tuning_words(facts)}"
    listed = "; ".join(
        f"at case {one.position + 1} ({one.events} of {one.cases} cases with the event, "
        f"{one.expected_events:.1f} expected)"
        for one in reading.crossings
    )
    return f"{stands} It reached its limit {listed}, and began again. {tuning_words(facts)}"


def _run(figure: go.Figure, reading: Reading, facts: ChartFacts, begins: int, end: int) -> None:
    places = list(range(begins, end + 1))
    figure.add_trace(
        go.Scatter(
            x=[begins, *(place + 1 for place in places)],
            y=[0.0, *(reading.path[place] for place in places)],
            mode="lines",
            line={"color": BLUE, "width": 2},
            hoverinfo="skip",
        )
    )


def _events(figure: go.Figure, reading: Reading, facts: ChartFacts) -> None:
    for happened, fill, words in ((False, PAPER, "no event"), (True, BLUE, "the event")):
        places = [place for place, one in enumerate(facts.outcomes) if one is happened]
        figure.add_trace(
            go.Scatter(
                x=[place + 1 for place in places],
                y=[reading.path[place] for place in places],
                mode="markers",
                marker={"color": fill, "size": 7, "line": {"color": BLUE, "width": 1.5}},
                customdata=[f"{facts.days[place]:%d %b %Y}" for place in places],
                hovertemplate=f"case %{{x}}, %{{customdata}}: {words}; %{{y:.2f}}<extra></extra>",
            )
        )


def _crossings(figure: go.Figure, reading: Reading, facts: ChartFacts) -> None:
    places = [one.position for one in reading.crossings]
    figure.add_trace(
        go.Scatter(
            x=[place + 1 for place in places],
            y=[reading.path[place] for place in places],
            mode="markers+text",
            text=[f"case {place + 1}" for place in places],
            textposition="top center",
            textfont={"size": 13, "color": INK},
            marker={"color": RUST, "symbol": "x", "size": 13},
            hovertemplate="reached the limit at case %{x}<extra></extra>",
        )
    )


def _limit_line(figure: go.Figure, facts: ChartFacts, last: int) -> None:
    figure.add_trace(
        go.Scatter(
            x=[0, last],
            y=[facts.limit] * 2,
            mode="lines",
            line={"color": SLATE, "dash": "dash", "width": 2},
            hoverinfo="skip",
        )
    )
