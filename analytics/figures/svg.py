"""Drawing for paper: plain shapes in points, written as SVG or handed to a template.

No browser is needed, text stays text, and colour is never the only cue: every line has its dash and
every point its symbol, so that a grey print says the same.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import cos, floor, log10, pi, sin
from xml.sax.saxutils import escape, quoteattr

from analytics.figures.template import INK, RULE

# As wide as the text of an A4 page with margins of 18 mm.
WIDTH = 490.0
FONT = "'Libertinus Serif', Georgia, 'Times New Roman', serif"
SIZE = 8.5
DASHES = {
    "solid": "",
    "dash": "6 3",
    "dot": "1.5 2.5",
    "dashdot": "6 3 1.5 3",
    "longdash": "11 4",
    "longdashdot": "11 4 1.5 4",
}
NARROW, BROAD = "iljtfr.,;:'|!()[]/- ", "mwMWQ%@—"
Point = tuple[float, float]


@dataclass(frozen=True)
class Shape:
    """One element: line, rect, path or text, with its attributes as written."""

    tag: str
    attributes: Mapping[str, str]
    text: str = ""


@dataclass(frozen=True)
class Drawing:
    """Shapes on a sheet of some size in points, and what they show in words: in short, and in full."""

    width: float
    height: float
    words: str
    shapes: tuple[Shape, ...]
    detail: str = ""


@dataclass(frozen=True)
class Scale:
    """A straight axis: values from low to high go from one place to another."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the place of a value; one beyond the ends stands at the end."""
        inside = min(max(value, self.low), self.high)
        share = (inside - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


@dataclass
class Canvas:
    """A sheet that is drawn on, from top to bottom and left to right."""

    height: float
    width: float = WIDTH
    shapes: list[Shape] = field(default_factory=list)

    def done(self, words: str, detail: str = "") -> Drawing:
        """Return the finished drawing with what it shows in words."""
        return Drawing(self.width, self.height, words, tuple(self.shapes), detail)

    def line(
        self, start: Point, end: Point, colour: str = INK, width: float = 1.0, dash: str = "solid"
    ) -> None:
        """Draw a straight line."""
        self._add(
            "line",
            x1=start[0],
            y1=start[1],
            x2=end[0],
            y2=end[1],
            **_stroke(colour, width, dash),
        )

    def rect(self, corner: Point, size: Point, fill: str, edge: str = "") -> None:
        """Draw a filled rectangle from its upper left corner."""
        extra = {"stroke": edge, "stroke-width": "0.7"} if edge else {}
        x, y = corner
        self._add("rect", x=x, y=y, width=max(size[0], 0.0), height=size[1], fill=fill, **extra)

    def path(
        self, points: Sequence[Point], colour: str = INK, width: float = 1.2, dash: str = "solid"
    ) -> None:
        """Draw an open line through points."""
        self._add("path", d=_through(points), fill="none", **_stroke(colour, width, dash))

    def area(self, points: Sequence[Point], fill: str, opacity: float = 0.14) -> None:
        """Fill the area within points."""
        self._add("path", d=_through(points) + "Z", fill=fill, **{"fill-opacity": opacity})

    def symbol(self, place: Point, kind: str, colour: str, size: float = 3.2) -> None:
        """Draw one of the symbols of the marks: filled, or open where its name says so."""
        name = kind.removesuffix("-open")
        if name in ("cross", "x"):
            turn = pi / 4 if name == "x" else 0.0
            for angle in (turn, turn + pi / 2):
                reach = (size * 1.15 * cos(angle), size * 1.15 * sin(angle))
                ends = [(place[0] - reach[0], place[1] - reach[1])]
                ends.append((place[0] + reach[0], place[1] + reach[1]))
                self._add("path", d=_through(ends), fill="none", **_stroke(colour, 1.8, "solid"))
            return
        fill = "#ffffff" if kind.endswith("-open") else colour
        self._add("path", d=_outline(place, name, size), fill=fill, **_stroke(colour, 1.2, "solid"))

    def text(
        self,
        place: Point,
        words: str,
        *,
        size: float = SIZE,
        anchor: str = "start",
        bold: bool = False,
        colour: str = INK,
    ) -> None:
        """Write words on a baseline; `anchor` is start, middle or end."""
        extra: dict[str, str | float] = {"font-size": size, "text-anchor": anchor}
        if bold:
            extra["font-weight"] = "bold"
        self._add(
            "text",
            words,
            x=place[0],
            y=place[1],
            fill=colour,
            **{"font-family": FONT, **extra},
        )

    def _add(self, tag: str, text: str = "", /, **attributes: "str | float") -> None:
        written = {name.replace("_", "-"): _number(value) for name, value in attributes.items()}
        self.shapes.append(Shape(tag, written, text))


def axis_below(canvas: Canvas, scale: Scale, y: float, ticks: Sequence[float], unit: str) -> None:
    """Draw a horizontal axis with its numbers under it."""
    canvas.line((scale.start, y), (scale.end, y), INK, 0.8)
    for tick in ticks:
        x = scale.at(tick)
        canvas.line((x, y), (x, y + 3), INK, 0.8)
        canvas.text((x, y + 12), f"{tick:g}{unit}", anchor="middle")


def ticks_to(high: float, most: int = 6) -> tuple[float, ...]:
    """Return round numbers from 0 up to at most a value, no more than some."""
    if high <= 0:
        return (0.0,)
    rough = high / (most - 1)
    power = 10 ** floor(log10(rough))
    step = next(power * by for by in (1, 2, 2.5, 5, 10) if power * by >= rough * 0.999)
    return tuple(round(step * place, 10) for place in range(int(high / step + 1e-9) + 1))


def width_of(words: str, size: float = SIZE) -> float:
    """Return about how wide words are when written, a little more rather than less."""
    em = sum(0.32 if one in NARROW else 0.85 if one in BROAD else 0.54 for one in words)
    return em * size


def spread(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move places apart to at least a gap, each as little as may be, between two ends.

    The order is kept. Where there is no room for all gaps, they are made smaller alike.
    """
    if not places:
        return []
    order = sorted(range(len(places)), key=lambda at: places[at])
    room = min(gap, (high - low) / max(1, len(places) - 1))
    moved: dict[int, float] = {}
    floor_ = low
    for at in order:
        moved[at] = max(places[at], floor_)
        floor_ = moved[at] + room
    ceiling = high
    for at in reversed(order):
        moved[at] = min(moved[at], ceiling)
        ceiling = moved[at] - room
    return [moved[at] for at in range(len(places))]


def to_svg(drawing: Drawing) -> str:
    """Write a drawing as an SVG file with its words as its title."""
    size = f'viewBox="0 0 {_number(drawing.width)} {_number(drawing.height)}"'
    size += f' width="{_number(drawing.width)}pt" height="{_number(drawing.height)}pt"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" {size}>',
        f"<title>{escape(drawing.words)}</title>",
    ]
    if drawing.detail:
        lines.append(f"<desc>{escape(drawing.detail)}</desc>")
    for shape in drawing.shapes:
        given = "".join(f" {name}={quoteattr(value)}" for name, value in shape.attributes.items())
        lines.append(f"<{shape.tag}{given}>{escape(shape.text)}</{shape.tag}>")
    return "\n".join([*lines, "</svg>", ""])


def grid(canvas: Canvas, ends: Point, places: Sequence[float]) -> None:
    """Draw pale upright lines from one height to another."""
    for x in places:
        canvas.line((x, ends[0]), (x, ends[1]), RULE, 0.6)


def _stroke(colour: str, width: float, dash: str) -> dict[str, str | float]:
    pattern = DASHES[dash]
    extra: dict[str, str | float] = {"stroke-dasharray": pattern} if pattern else {}
    return {"stroke": colour, "stroke-width": width, **extra}


def _number(value: "str | float") -> str:
    return value if isinstance(value, str) else f"{round(value, 2):g}"


def _through(points: Sequence[Point]) -> str:
    return "M" + " L".join(f"{_number(x)} {_number(y)}" for x, y in points)


def _outline(place: Point, name: str, size: float) -> str:
    corners = {"square": 4, "diamond": 4, "triangle-up": 3, "triangle-down": 3, "circle": 16}[name]
    first = {"square": pi / 4, "diamond": 0.0, "triangle-up": -pi / 2, "triangle-down": pi / 2}
    turn = first.get(name, 0.0)
    reach = size * (1.3 if corners < 5 else 1.0)
    angles = [turn + 2 * pi * corner / corners for corner in range(corners)]
    points = [(place[0] + reach * cos(a), place[1] + reach * sin(a)) for a in angles]
    return _through(points) + "Z"
