"""The rate over all eligible against how many of those not judged had the event."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.outcomes import percent
from analytics.answers.tipping import TippingAnswer
from analytics.figures.template import INK, SLATE, layout


def tipping(found: TippingAnswer) -> dict[str, Any]:
    """Return the figure as plain JSON values, with the target as a dashed line where one is given."""
    total = found.groups[-1].found
    figure = go.Figure()
    if total is not None and total.unseen:
        eligible = total.evaluable + total.unseen
        numbers = list(range(total.unseen + 1))
        figure.add_trace(
            go.Scatter(
                x=numbers,
                y=[100 * (total.events + more) / eligible for more in numbers],
                mode="lines",
                line={"color": INK, "width": 2.5},
                hovertemplate="%{x} of them: %{y:.1f}%<extra></extra>",
            )
        )
        shown = marked(found)
        figure.add_trace(
            go.Scatter(
                x=[one.more for one in shown],
                y=[one.rate * 100 for one in shown],
                mode="markers+text",
                text=[percent(one.rate) for one in shown],
                textposition=["bottom right", "bottom right", "top left"][: len(shown)],
                cliponaxis=False,
                marker={"color": INK, "symbol": "diamond", "size": 10},
                hoverinfo="skip",
            )
        )
    if found.target is not None:
        figure.add_hline(
            y=found.target * 100,
            line={"color": SLATE, "dash": "dash"},
            annotation={"text": f"target {percent(found.target)}", "font": {"size": 12}},
            annotation_position="bottom right",
        )
    figure.update_layout(
        layout(
            "The rate, if those not judged fared differently",
            note="Marks: none had it, they fared like those judged, all had it.",
            height=380,
            xaxis={"title": {"text": "of those not judged, had the event"}, "rangemode": "tozero"},
            yaxis={"rangemode": "tozero", "ticksuffix": "%"},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def marked(found: TippingAnswer) -> list[Any]:
    """Return the suppositions that a figure marks: none had it, all alike, all had it."""
    some = found.suppositions
    return [some[0], some[1], some[-1]] if some else []


def tipping_words(found: TippingAnswer) -> str:
    """State the ends, the rate if the unseen fared alike, and from where on the target is exceeded."""
    total = found.groups[-1].found
    if total is None or not total.unseen:
        return "Everybody eligible was judged: nobody is left who could change the rate."
    parts = [f"{one.words}: {percent(one.rate)}" for one in marked(found)]
    listed = f" ({'; '.join(parts)})" if parts else ""
    return (
        f"{total.unseen} of {total.evaluable + total.unseen} eligible were not judged. The rate "
        f"over all lies between {percent(total.bounds.low)} and {percent(total.bounds.high)}"
        f"{listed}. {_target(found, total.unseen, total.at)}".strip()
    )


def _target(found: TippingAnswer, unseen: int, at: int | None) -> str:
    if found.target is None:
        return ""
    target = percent(found.target)
    if at is None:
        return f"It stays at or below {target} even if all {unseen} had the event."
    if at == 0:
        return f"It exceeds {target} even if none of them had the event."
    return f"It exceeds {target} once {at} of the {unseen} had the event ({percent(at / unseen)})."
