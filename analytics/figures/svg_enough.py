"""What more years would tell, for paper: the interval to expect, and beside it the power."""

from analytics.answers.enough import SHOWN, WANTED, EnoughAnswer
from analytics.figures.enough import NAMED, power_words, room, width_words
from analytics.figures.svg import Canvas, Drawing
from analytics.figures.svg_plot import SMALL, Axis, Part, Plot, plot
from analytics.figures.template import INK, SLATE

HIGH, GAP = 168.0, 12.0


def ahead(found: EnoughAnswer) -> Drawing:
    """Draw both against more years of operating."""
    canvas = Canvas(height=HIGH)
    wide = (canvas.width - GAP) / 2
    years = Axis(-0.6, max(SHOWN) + 0.6, "more years of operating", ticks=tuple(map(float, NAMED)))
    low = [year.interval.low * 100 for year in found.years]
    high = [year.interval.high * 100 for year in found.years]
    bottom, top = room(low, high)
    _widths(
        plot(
            canvas,
            Part((0, 0), wide, HIGH),
            years,
            Axis(bottom, top, unit="%"),
            f"Interval to expect, {found.one.group} less {found.other.group}",
        ),
        found,
    )
    _powers(
        plot(
            canvas,
            Part((wide + GAP, 0), wide, HIGH),
            years,
            Axis(0, 112, unit="%", ticks=(0, 20, 40, 60, 80, 100)),
            "How often the difference would be told",
        ),
        found,
    )
    return canvas.done(f"{width_words(found)} {power_words(found)}")


def _widths(here: Plot, found: EnoughAnswer) -> None:
    here.level(0.0, INK, "solid", 1.2)
    for year in found.years:
        low = here.at(year.years, year.interval.low * 100)
        high = here.at(year.years, year.interval.high * 100)
        here.canvas.line(low, high, SLATE, 1.6)
        for x, y in (low, high):
            here.canvas.line((x - 3, y), (x + 3, y), SLATE, 1.2)
        middle = here.at(year.years, year.interval.estimate * 100)
        here.canvas.symbol(middle, "diamond", INK, 2.4)
        words = f"{year.width * 100:.0f}"
        here.canvas.text((high[0], high[1] - 3), words, anchor="middle", size=SMALL)


def _powers(here: Plot, found: EnoughAnswer) -> None:
    here.level(WANTED * 100)
    end = here.across.end
    here.canvas.text((end, here.up.at(WANTED * 100) - 3), "four in five", anchor="end", size=SMALL)
    here.path([(year.years, year.power * 100) for year in found.years], INK, 1.4)
    for year in found.years:
        place = here.at(year.years, year.power * 100)
        here.canvas.symbol(place, "diamond", INK, 2.4)
        if year.years in NAMED:
            words = f"{year.power * 100:.0f}%"
            here.canvas.text((place[0], place[1] - 5), words, anchor="middle", size=SMALL)
