"""What more years would tell: the expected interval and the power, each against years ahead."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.enough import SHOWN, WANTED, EnoughAnswer, Year
from analytics.answers.outcomes import percent
from analytics.figures.template import INK, SLATE, layout

# Labels at every year would run into one another on a phone.
NAMED = (0, 2, 5, 10, 15)


def widths(found: EnoughAnswer) -> dict[str, Any]:
    """Return the expected interval of the difference for each year as plain JSON values."""
    figure = go.Figure()
    places = [year.years for year in found.years]
    middle = [year.interval.estimate * 100 for year in found.years]
    high = [year.interval.high * 100 for year in found.years]
    low = [year.interval.low * 100 for year in found.years]
    figure.add_trace(
        go.Scatter(
            x=places,
            y=middle,
            mode="markers",
            marker={"color": INK, "symbol": "diamond", "size": 9},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": [top - at for top, at in zip(high, middle, strict=True)],
                "arrayminus": [at - end for end, at in zip(low, middle, strict=True)],
                "color": SLATE,
                "thickness": 2.5,
                "width": 6,
            },
            hovertemplate="%{y:.1f} points after %{x} years<extra></extra>",
        )
    )
    figure.add_trace(
        go.Scatter(
            x=places,
            y=high,
            mode="text",
            text=[f"{year.width * 100:.0f}" for year in found.years],
            textposition="top center",
            hoverinfo="skip",
        )
    )
    figure.update_layout(
        layout(
            f"{found.one.group} less {found.other.group}: the interval to expect",
            note="Number above: expected width of the 95% interval, in points. Line at 0: no difference.",
            height=420,
            xaxis=_years_ahead(),
            yaxis={
                "ticksuffix": "%",
                "zeroline": True,
                "zerolinecolor": INK,
                "zerolinewidth": 2,
                "range": room(low, high),
            },
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _years_ahead() -> dict[str, Any]:
    return {
        "title": {"text": "more years of operating"},
        "tickvals": list(NAMED),
        "range": [-0.6, max(SHOWN) + 0.6],
    }


def room(low: list[float], high: list[float]) -> list[float]:
    """Return the ends of the axis, with room for the numbers above; 0 is always in it."""
    bottom, top = min([0.0, *low]), max([0.0, *high])
    reach = max(top - bottom, 1.0)
    return [bottom - 0.05 * reach, top + 0.14 * reach]


def powers(found: EnoughAnswer) -> dict[str, Any]:
    """Return the power for each year, with the line of four in five, as plain JSON values."""
    figure = go.Figure(
        go.Scatter(
            x=[year.years for year in found.years],
            y=[year.power * 100 for year in found.years],
            mode="lines+markers+text",
            text=[
                f"{year.power * 100:.0f}%" if year.years in NAMED else "" for year in found.years
            ],
            textposition="top center",
            line={"color": INK, "width": 2},
            marker={"color": INK, "symbol": "diamond", "size": 8},
            hovertemplate="%{y:.1f}% after %{x} years<extra></extra>",
        )
    )
    figure.add_hline(
        y=WANTED * 100,
        line={"color": SLATE, "dash": "dash"},
        annotation={"text": "four in five", "font": {"size": 12}},
    )
    figure.update_layout(
        layout(
            "How often the difference would be told",
            note="Share of such services whose 95% interval would leave out 0.",
            height=380,
            xaxis=_years_ahead(),
            yaxis={"range": [0, 116], "tickvals": [0, 20, 40, 60, 80, 100], "ticksuffix": "%"},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def width_words(found: EnoughAnswer) -> str:
    """State the expected interval today and at the last year shown."""
    if not found.years:
        return "No interval can be expected: a group has neither cases nor a rate."
    first, last = found.years[0], found.years[-1]
    return (
        f"Expected 95% interval of the difference, {found.one.group} less {found.other.group}. "
        f"{_years(first.years).capitalize()}: {_ends(first)}; {_years(last.years)}: {_ends(last)}."
    )


def power_words(found: EnoughAnswer) -> str:
    """State the power today and at the last year shown, and when it reaches four in five."""
    if not found.years:
        return "No power can be stated: a group has neither cases nor a rate."
    first, last = found.years[0], found.years[-1]
    reached = (
        "It does not reach four in five within fifty years."
        if found.needed is None
        else f"It reaches four in five {_years(found.needed)}."
    )
    return (
        f"The difference would be told by {percent(first.power)} of such services "
        f"{_years(first.years)}, and by {percent(last.power)} {_years(last.years)}. {reached}"
    )


def _years(number: int) -> str:
    if not number:
        return "with the numbers of today"
    return f"after {number} more year" + ("" if number == 1 else "s")


def _ends(year: Year) -> str:
    return (
        f"{percent(year.interval.low)} to {percent(year.interval.high)}, "
        f"{year.width * 100:.1f} points wide"
    )
