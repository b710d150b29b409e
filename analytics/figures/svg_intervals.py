"""When it happened beside when it was found, for paper: one small plot a group, all on one scale."""

from analytics.answers.outcomes import ALL
from analytics.answers.timing import Course, Timing
from analytics.figures.curves import LAST_DAY, TICKS
from analytics.figures.intervals import drawn_of, last_month, steps_of, top_of
from analytics.figures.svg import Canvas, Drawing
from analytics.figures.svg_plot import Axis, Part, Plot, plot, stairs
from analytics.figures.template import INK, SLATE, mark_for

COLUMNS, EACH, GAP = 4, 98.0, 6.0


def panels(found: Timing) -> Drawing:
    """Draw a plot for each group that has a curve, from left to right and top to bottom."""
    drawn = drawn_of(found)
    groups = [one.group for one in found.courses]
    rows = -(-max(1, len(drawn)) // COLUMNS)
    canvas = Canvas(height=rows * (EACH + GAP))
    wide = (canvas.width - GAP * (COLUMNS - 1)) / COLUMNS
    high = top_of(drawn)
    for place, course in enumerate(drawn):
        row, column = divmod(place, COLUMNS)
        corner = (column * (wide + GAP), row * (EACH + GAP))
        across = Axis(0, last_month(drawn), "months", ticks=TICKS)
        here = plot(
            canvas,
            Part(corner, wide, EACH),
            across,
            Axis(0, high, unit="%"),
            f"{course.group}  {course.events} of {course.subjects}",
        )
        _course(here, course, INK if course.group == ALL else mark_for(course.group, groups).colour)
    return canvas.done(found.sentence)


def _course(here: Plot, course: Course, colour: str) -> None:
    end = min(course.stops_at, LAST_DAY)
    least, most = (
        stairs(list(zip(*steps_of(days, course.share, end), strict=True)))
        for days in (course.least_days, course.most_days)
    )
    outline = [here.at(*point) for point in (*most, *reversed(least))]
    here.canvas.area(outline, colour, 0.2)
    for line in (least, most):
        here.path(line, colour, 1.1)
    seen = steps_of(course.found_days, course.found_share, end)
    here.path(stairs(list(zip(*seen, strict=True))), SLATE, 1.2, "dash")
