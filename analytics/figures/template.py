"""One look for every figure: our paper and ink, and colours that never stand alone."""

from dataclasses import dataclass
from typing import Any

PAPER, INK, SLATE, RULE = "#fbf8f1", "#1d1b18", "#4a5560", "#d9d2c3"
FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"


@dataclass(frozen=True)
class Mark:
    """How one construct type is drawn: colour, symbol and dash together."""

    colour: str
    symbol: str
    dash: str


# Okabe and Ito, Color Universal Design (2008); yellow is left out: too pale on our paper.
MARKS = (
    Mark("#0072B2", "circle", "solid"),
    Mark("#D55E00", "square", "dash"),
    Mark("#009E73", "diamond", "dot"),
    Mark("#CC79A7", "triangle-up", "dashdot"),
    Mark("#56B4E9", "triangle-down", "longdash"),
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


def layout(title: str, **extra: Any) -> dict[str, Any]:
    """Return the shared layout with a figure's own settings over it."""
    axis = {"gridcolor": RULE, "linecolor": INK, "zeroline": False, "automargin": True}
    base: dict[str, Any] = {
        "title": {"text": title, "x": 0, "xanchor": "left", "font": {"size": 18}},
        "font": {"family": FONT, "size": 15, "color": INK},
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "margin": {"l": 20, "r": 20, "t": 56, "b": 48},
        "showlegend": False,
        "xaxis": axis,
        "yaxis": dict(axis),
        "hoverlabel": {"font": {"family": FONT}},
    }
    for name, value in extra.items():
        known = base.get(name)
        base[name] = {**known, **value} if isinstance(known, dict) else value
    return base
