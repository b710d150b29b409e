"""The rate over all eligible against how many of those not judged had the event, for paper."""

from analytics.answers.outcomes import percent
from analytics.answers.tipping import TippingAnswer
from analytics.figures.svg import Canvas, Drawing, ticks_to
from analytics.figures.svg_plot import Axis, Part, plot
from analytics.figures.template import INK
from analytics.figures.tipping import marked, tipping_words

HIGH = 140.0


def tipping_line(found: TippingAnswer) -> Drawing:
    """Draw the line from none to all of them, marked where they had none, fared alike, or all did.

    Raises ValueError where everybody was judged, so that there is no line.
    """
    total = found.groups[-1].found
    if total is None or not total.unseen:
        raise ValueError("everybody eligible was judged: there is nothing to draw")
    eligible = total.evaluable + total.unseen
    ends = [100 * (total.events + more) / eligible for more in (0, total.unseen)]
    canvas = Canvas(height=HIGH)
    across = Axis(
        0,
        total.unseen,
        "of those not judged, had the event",
        ticks=tuple(tick for tick in ticks_to(total.unseen) if tick == round(tick)),
    )
    here = plot(
        canvas, Part((0, 0), canvas.width - 34, HIGH), across, Axis(0, ends[1] * 1.15, unit="%")
    )
    here.path([(0, ends[0]), (total.unseen, ends[1])], INK, 1.6)
    for one in marked(found):
        x, y = here.at(one.more, one.rate * 100)
        canvas.symbol((x, y), "diamond", INK, 3.0)
        canvas.text((x + 6, y + 9), percent(one.rate))
    return canvas.done(tipping_words(found))
