"""One look for every figure: our paper and ink, and colours that never stand alone."""

from dataclasses import dataclass
from textwrap import wrap
from typing import Any

PAPER, INK, SLATE, RULE = "#fbf8f1", "#1d1b18", "#4a5560", "#d9d2c3"
FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"


@dataclass(frozen=True)
class Mark:
    """How one construct type is drawn: colour, symbol and dash together."""

    colour: str
    symbol: str
    dash: str


# Okabe and Ito, Color Universal Design (2008). On our paper every line must stand out 3 to 1: sky blue
# and purple are deepened a little, yellow to ochre.
MARKS = (
    Mark("#0072B2", "circle", "solid"),
    Mark("#D55E00", "square", "dash"),
    Mark("#009E73", "diamond", "dot"),
    Mark("#C46F9E", "triangle-up", "dashdot"),
    Mark("#3795CE", "triangle-down", "longdash"),
    Mark("#8a6d00", "cross", "longdashdot"),
    Mark("#000000", "x", "solid"),
)
KNOWN_ORDER = ("LP", "LP+A1", "LP+A2", "HP", "CC-B", "TG", "OTHER")


def mark_for(group: str, groups: "list[str]") -> Mark:
    """Return a group's mark; a construct type keeps its own whatever else is shown."""
    if group in KNOWN_ORDER:
        return MARKS[KNOWN_ORDER.index(group)]
    others = [name for name in sorted(groups) if name not in KNOWN_ORDER]
    return MARKS[others.index(group) % len(MARKS)]


def pale(colour: str) -> str:
    """Return a colour for an area of that colour, light enough for lines over it."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.14)"


def layout(title: str, note: str = "", **extra: Any) -> dict[str, Any]:
    """Return the shared layout with a figure's own settings over it.

    `note` says under the title how to read the figure. Both are broken into lines that fit a phone.
    """
    axis = {"gridcolor": RULE, "linecolor": INK, "zeroline": False, "automargin": True}
    heading, lines = wrap(title, 38), wrap(note, 52)
    base: dict[str, Any] = {
        "title": {
            "text": "<br>".join(heading),
            "subtitle": {"text": "<br>".join(lines), "font": {"size": 12, "color": SLATE}},
            "x": 0,
            "xanchor": "left",
            "xref": "container",
            "pad": {"l": 8, "t": 26},
            "yref": "container",
            "y": 1,
            "yanchor": "top",
            "font": {"size": 18},
        },
        "font": {"family": FONT, "size": 15, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "margin": {"l": 20, "r": 20, "t": 34 + 24 * len(heading) + 18 * len(lines), "b": 48},
        "showlegend": False,
        "xaxis": axis,
        "yaxis": dict(axis),
        "hoverlabel": {"font": {"family": FONT}},
    }
    for name, value in extra.items():
        known = base.get(name)
        base[name] = {**known, **value} if isinstance(known, dict) else value
    return base
