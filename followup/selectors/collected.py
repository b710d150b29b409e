"""What was collected in the windows of many reviews, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection
from datetime import date
from typing import Any

from followup.models.complications import Complication
from followup.models.films import Film
from followup.models.motion import MotionExam
from followup.models.reviews import Review
from followup.models.scores import Score
from followup.rules import requirements
from followup.rules.requirements import Present

Dated = dict[int, list[tuple[date, Any]]]


def collected_for(reviews: Collection[Review]) -> dict[int, Present]:
    """Return, by review, what was collected inside its window, or up to its visit's day.

    Four queries for however many reviews, whose operations come with them.
    """
    injuries = {review.procedure.injury_id for review in reviews}
    films = _dated(Film.objects.filter(injury__in=injuries), "taken_on", "view", "shows_both_sides")
    exams = _dated(MotionExam.objects.filter(injury__in=injuries), "examined_on")
    scores = _dated(Score.objects.filter(injury__in=injuries), "taken_on", "instrument")
    told: Dated = defaultdict(list)
    events = Complication.objects.filter(procedure__injury__in=injuries)
    for injury_id, on in events.values_list("procedure__injury_id", "detected_on"):
        told[injury_id].append((on, ()))
    return {review.pk: _present(review, films, exams, scores, told) for review in reviews}


def _dated(rows: Any, day: str, *columns: str) -> Dated:
    found: Dated = defaultdict(list)
    for injury_id, on, *values in rows.values_list("injury_id", day, *columns):
        found[injury_id].append((on, values))
    return found


def _present(review: Review, films: Dated, exams: Dated, scores: Dated, told: Dated) -> Present:
    injury_id: int = review.procedure.injury_id
    last = max(review.closes_on, review.attended_on or review.closes_on)

    def inside(found: Dated) -> list[Any]:
        rows = found.get(injury_id, ())
        return [values for on, values in rows if review.opens_on <= on <= last]

    views = inside(films)
    asked = review.attended_on is not None and bool(inside(told))
    return Present(
        film_views=frozenset(view for view, _ in views),
        other_side_views=frozenset(view for view, both in views if both),
        motion=bool(inside(exams)),
        scores=frozenset(instrument for (instrument,) in inside(scores)),
        asked=requirements.asked_of(review.asked, told=asked),
    )
