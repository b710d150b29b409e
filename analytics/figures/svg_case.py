"""One case on its axis of time: the operation, every film with its number, and where it turned."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from analytics.answers.case import CaseVerdict, SeenFilm
from analytics.answers.case_words import ABOVE, STATES, amount, explain, threshold, unit_of
from analytics.figures.svg import SIZE, Canvas, Drawing, Point, spread, width_of
from analytics.figures.svg_plot import Axis, Part, Plot, plot
from analytics.figures.template import INK, SLATE

HEIGHT, TOP, LANE = 218.0, 26.0, 18.0
RUST, TURN = "#a03d12", "#c96f3f"
# The axis is never so short that two films of one week look like a long course.
LEAST_DAYS = 42
Happening = tuple[date, str]


@dataclass
class _Labels:
    """Words at points, none of them over another; what finds no place is left to the table."""

    low: float
    high: float
    foot: float
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def place(self, at: Point, words: str) -> Point | None:
        """Return where the middle of some words may stand near a point, or None."""
        wide = width_of(words) / 2 + 1
        for up in (-7.0, 14.0, -17.0, 24.0):
            x = min(max(at[0], self.low + wide), self.high - wide)
            box = (x - wide, at[1] + up - SIZE, x + wide, at[1] + up + 2)
            inside = box[1] > TOP and box[3] < self.foot
            if inside and not any(_cross(box, other) for other in self.taken):
                self.taken.append(box)
                return x, at[1] + up
        return None


def case_axis(
    case: CaseVerdict, performed_on: date, happenings: Sequence[Happening] = ()
) -> Drawing:
    """Draw a case under a definition, with what else happened after its operation.

    Shaded is the time in which it turned, between the last film that held and the first that did not;
    paler, across, what measurement alone could make of a number at the threshold.
    """
    canvas = Canvas(height=HEIGHT)
    days = [one.day for one in case.films] + [(on - performed_on).days for on, _ in happenings]
    last = max([LEAST_DAYS, *days])
    across = Axis(
        min([0, *days]) - last * 0.02,
        last * 1.04,
        f"days after the operation of {performed_on.day} {performed_on:%b %Y}",
    )
    size = canvas.width, HEIGHT - TOP - LANE
    here = plot(canvas, Part((0, TOP), *size), across, _up(case))
    canvas.text((here.across.start, 10), _heading(case), bold=True)
    _turned(here, case)
    _level(here, case)
    _uprights(here, performed_on, happenings)
    _films(here, case)
    return canvas.done(f"{STATES[case.state]}: the case on its axis of time", described(case))


def described(case: CaseVerdict) -> str:
    """Say everything that the drawing shows, film by film."""
    films = [
        f"Day {one.day}, {one.view} film: "
        + (amount(one.measure, case.definition) if one.measure is not None else one.apart or "none")
        + (", over the threshold" if one.lost else "")
        for one in case.films
    ]
    return " ".join([explain(case), *(f"{text}." for text in films)])


def _heading(case: CaseVerdict) -> str:
    what = ABOVE[case.definition.rule]
    unit = "mm" if unit_of(case.definition) == "mm" else "%"
    return f"{unit} {what}"


def _up(case: CaseVerdict) -> Axis:
    error = _error(case) or 0.0
    told = [one.measure for one in case.films if one.measure is not None]
    low = min([0.0, *told])
    high = max([case.definition.threshold + error, *told])
    room = (high - low) * 0.12 or 1.0
    return Axis(low - room if low < 0 else low - room / 3, high + room)


def _error(case: CaseVerdict) -> float | None:
    errors = [one.error for one in case.films if one.error is not None and not one.apart]
    deciding = case.decided_by
    if deciding is not None and deciding.error is not None:
        return deciding.error
    return errors[-1] if errors else None


def _turned(here: Plot, case: CaseVerdict) -> None:
    if case.last_held is None or case.first_lost is None:
        return
    begins, ends = here.across.at(case.last_held.day), here.across.at(case.first_lost.day)
    top, foot = here.up.end, here.up.start
    here.canvas.area([(begins, foot), (begins, top), (ends, top), (ends, foot)], TURN, 0.24)
    here.canvas.line((begins, top), (begins, foot), RUST, 0.8, "dot")
    here.canvas.line((ends, top), (ends, foot), RUST, 0.8, "dot")


def _level(here: Plot, case: CaseVerdict) -> None:
    limit, error = case.definition.threshold, _error(case)
    if error is not None:
        lower, upper = here.up.at(limit - error), here.up.at(limit + error)
        start, end = here.across.start, here.across.end
        corners = [(start, lower), (start, upper), (end, upper), (end, lower)]
        here.canvas.area(corners, SLATE, 0.13)
    here.level(limit, RUST, "dash", 1.2)


def _uprights(here: Plot, performed_on: date, happenings: Sequence[Happening]) -> None:
    told = [(0, "operation"), *(((on - performed_on).days, words) for on, words in happenings)]
    wide = max(width_of(words) for _, words in told)
    at = [here.across.at(day) for day, _ in told]
    low, high = here.across.start + 10, here.canvas.width - wide / 2 - 1
    moved = spread(at, wide + 4, low, max(low, high))
    for x, place, (_, words) in zip(at, moved, told, strict=True):
        here.canvas.line((x, here.up.end - 3), (x, here.up.start), INK, 0.9, "longdash")
        here.canvas.text((place, TOP - 2), words, anchor="middle", colour=SLATE)


def _films(here: Plot, case: CaseVerdict) -> None:
    labels = _Labels(here.across.start, here.canvas.width, here.up.start)
    deciding = {one.film_id for one in _deciding(case)}
    lane = HEIGHT - 6
    for one in sorted(case.films, key=lambda film: film.film_id not in deciding):
        if one.measure is None:
            # What let go without a number stands with the others that have none, but filled.
            kind = "triangle-down" if one.lost else "x"
            here.canvas.symbol(
                (here.across.at(one.day), lane), kind, RUST if one.lost else SLATE, 2.6
            )
            continue
        at = here.at(one.day, one.measure)
        here.canvas.symbol(at, _symbol(one, case), RUST if one.lost else INK)
        words = amount(one.measure, case.definition)
        place = labels.place(at, words)
        if place is not None:
            here.canvas.text(place, words, anchor="middle", bold=one.film_id in deciding)


def _symbol(film: SeenFilm, case: CaseVerdict) -> str:
    if film == case.baseline:
        return "square"
    return "diamond" if film.lost else "circle"


def _deciding(case: CaseVerdict) -> list[SeenFilm]:
    return [one for one in (case.first_lost, case.last_held, case.baseline) if one is not None]


def _cross(one: tuple[float, float, float, float], two: tuple[float, float, float, float]) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


LEGEND = (
    "Square: first film. Circles: films that held. Diamonds: films over the threshold. Crosses below: "
    "films that this definition does not compare. Dashed across: the threshold; the grey band around "
    "it: one minimal detectable change. Shaded upright: between these two films it happened."
)


def caption(case: CaseVerdict) -> str:
    """Say how the drawing is read, and which threshold it is drawn with."""
    return f"Threshold: {threshold(case.definition)}. {LEGEND}"
