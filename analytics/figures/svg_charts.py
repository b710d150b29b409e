"""A running chart for paper: the evidence case by case, its limit, and the cases that reached it."""

from analytics.answers.running import Reading
from analytics.figures.charts import BLUE, RUST, ChartFacts, chart_words
from analytics.figures.svg import Canvas, Drawing
from analytics.figures.svg_plot import SMALL, Axis, Part, Plot, plot
from analytics.figures.template import INK, SLATE

HIGH, SIDE = 96.0, 30.0


def chart_drawing(reading: Reading, facts: ChartFacts) -> Drawing:
    """Draw a chart; a run begins at 0 after each crossing."""
    canvas = Canvas(height=HIGH)
    last = max(10, len(reading.path) + 1)
    top = max([facts.limit, *reading.path]) * 1.18
    here = plot(
        canvas,
        Part((0, 0), canvas.width - SIDE, HIGH),
        Axis(0, last, "cases in the order of operation"),
        Axis(0, top),
    )
    here.level(facts.limit)
    place = here.at(last, facts.limit)
    canvas.text((place[0] + 4, place[1] + SMALL / 3), "limit", size=SMALL, colour=SLATE)
    _runs(here, reading)
    _cases(here, reading, facts)
    return canvas.done(chart_words(reading, facts))


def _runs(here: Plot, reading: Reading) -> None:
    begins = 0
    for end in (*(one.position for one in reading.crossings), len(reading.path) - 1):
        if end >= begins:
            run = [(place + 1.0, reading.path[place]) for place in range(begins, end + 1)]
            here.path([(float(begins), 0.0), *run], BLUE, 1.1)
        begins = end + 1


def _cases(here: Plot, reading: Reading, facts: ChartFacts) -> None:
    # Where there are hundreds, each mark is smaller, and those without the event are left to the line.
    many = len(reading.path) > 150
    for place, happened in enumerate(facts.outcomes):
        if happened or (happened is not None and not many):
            symbol = "circle" if happened else "circle-open"
            at = here.at(place + 1, reading.path[place])
            here.canvas.symbol(at, symbol, BLUE, 1.5 if many else 2.0)
    for one in reading.crossings:
        x, y = here.at(one.position + 1, reading.path[one.position])
        here.canvas.symbol((x, y), "x", RUST, 3.6)
        words = f"case {one.position + 1}"
        inside = min(x, here.across.end - 22)
        here.canvas.text((inside, y - 6), words, anchor="middle", size=SMALL, colour=INK)
