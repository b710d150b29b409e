"""Units against their volume inside the limits of chance, for paper; none of them ranked."""

from analytics.answers.funnels import Funnel, Unit, sentence
from analytics.answers.outcomes import percent
from analytics.figures.funnels import BEYOND, GREY, LIMITS, upper
from analytics.figures.svg import SIZE, Canvas, Drawing, Point, spread, width_of
from analytics.figures.svg_plot import SMALL, Axis, Part, Plot, plot
from analytics.figures.template import INK, SLATE

HIGH, BLUE, SIDE = 132.0, "#0072B2", 40.0
Box = tuple[float, float, float, float]


def funnel_drawing(found: Funnel) -> Drawing:
    """Draw the limits with their names at the right, and each unit with its own beside it.

    Raises ValueError where a funnel is refused.
    """
    if found.limits.empty:
        raise ValueError(found.refused or "there are no limits to draw")
    canvas = Canvas(height=HIGH)
    most = max([float(found.limits.index[-1]), *(unit.evaluable for unit in found.units)])
    here = plot(
        canvas,
        Part((0, 0), canvas.width - SIDE, HIGH),
        Axis(0, most * 1.02, "cases judged"),
        Axis(0, upper(found), unit="%"),
    )
    _limits(here, found)
    drawn = sorted((unit for unit in found.units if unit.rate), key=lambda unit: unit.evaluable)
    boxes: list[Box] = []
    for unit in drawn:
        boxes.append(_place(here, unit, boxes))
    # Names stand on white, so that no line strikes them out; points lie over it.
    for left, top, right, bottom in boxes:
        canvas.rect((left, top), (right - left, bottom - top), "#ffffff")
    for unit, box in zip(drawn, boxes, strict=True):
        _point(here, unit)
        ink = SLATE if not unit.place else INK
        canvas.text((box[0], box[3] - 2), unit.name, size=SMALL, colour=ink)
    return canvas.done(sentence(found))


def _limits(here: Plot, found: Funnel) -> None:
    volumes = [float(volume) for volume in found.limits.index]
    last = found.limits.iloc[-1]
    names = [(100 * found.target, percent(found.target))]
    for low, high, dash, name in LIMITS:
        for column in (low, high):
            values = (100 * found.limits[column]).tolist()
            points = list(zip(volumes, values, strict=True))
            inside = [point for point in points if point[1] <= here.up.high]
            if len(inside) > 1:
                here.path(inside, INK, 0.9, dash)
        names.append((100 * float(last[high]), name))
    ends = (here.at(volumes[0], names[0][0]), here.at(volumes[-1], names[0][0]))
    here.canvas.line(*ends, SLATE, 1.2, "dot")
    heights = spread([here.up.at(at) for at, _ in names], SIZE, here.up.end, here.up.start)
    for (_, name), height in zip(names, heights, strict=True):
        here.canvas.text((here.across.end + 5, height + SMALL / 3), name, size=SMALL)


def _point(here: Plot, unit: Unit) -> None:
    if unit.rate is None:
        return
    beyond = unit.place not in ("", "within")
    colour = GREY if not unit.place else BEYOND if beyond else BLUE
    symbol = "circle-open" if not unit.place else "square" if beyond else "circle"
    here.canvas.symbol(here.at(unit.evaluable, 100 * unit.rate.estimate), symbol, colour, 3.4)


def _place(here: Plot, unit: Unit, taken: list[Box]) -> Box:
    """Return where a name stands by its point: the first place where it covers no other."""
    rate = 100 * unit.rate.estimate if unit.rate else 0.0
    x, y = here.at(unit.evaluable, rate)
    wide = width_of(unit.name, SMALL)
    # A name near an edge is moved inside, away from the numbers of the axis.
    start = min(max(x - wide / 2, here.across.start + 2), here.across.end - wide)
    places = [(start, y + below) for below in (-6, 12, -15, 21, -24, 30)]
    places = [at for at in places if here.up.end + SMALL <= at[1] <= here.up.start - 2]
    free = (at for at in places if not any(_over(_box(at, wide), box) for box in taken))
    return _box(next(free, (start, y - 6)), wide)


def _box(at: Point, wide: float) -> Box:
    return (at[0], at[1] - SMALL, at[0] + wide, at[1] + 2)


def _over(one: Box, two: Box) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]
