"""What was collected in the windows of many reviews, in a fixed number of queries."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from followup.models.complications import Complication
from followup.models.films import Film
from followup.models.motion import MotionExam
from followup.models.reviews import Review
from followup.models.scores import Score
from followup.rules import requirements
from followup.rules.requirements import Present


@dataclass(frozen=True)
class Findings:
    """What was found on one injury, each with its day first.

    Films have their view and whether they show both sides, scores their instrument, events the
    operation that they followed.
    """

    films: list[tuple[Any, ...]] = field(default_factory=list)
    exams: list[tuple[date]] = field(default_factory=list)
    scores: list[tuple[Any, ...]] = field(default_factory=list)
    events: list[tuple[date, int]] = field(default_factory=list)


def collected_for(reviews: Collection[Review]) -> dict[int, Present]:
    """Return, by review, what was collected inside its window, or up to its visit's day.

    Four queries for however many reviews, whose operations come with them.
    """
    found = findings_of({review.procedure.injury_id for review in reviews})
    return {review.pk: present_in(review, found[review.procedure.injury_id]) for review in reviews}


def findings_of(injuries: Collection[int]) -> dict[int, Findings]:
    """Return what was found on each of some injuries, named by their keys. Four queries."""
    found = {injury_id: Findings() for injury_id in injuries}
    films = Film.objects.filter(injury__in=injuries)
    for injury_id, *film in films.values_list("injury_id", "taken_on", "view", "shows_both_sides"):
        found[injury_id].films.append(tuple(film))
    exams = MotionExam.objects.filter(injury__in=injuries)
    for injury_id, on in exams.values_list("injury_id", "examined_on"):
        found[injury_id].exams.append((on,))
    scores = Score.objects.filter(injury__in=injuries)
    for injury_id, *score in scores.values_list("injury_id", "taken_on", "instrument"):
        found[injury_id].scores.append(tuple(score))
    events = Complication.objects.filter(procedure__injury__in=injuries)
    told = events.values_list("procedure__injury_id", "detected_on", "procedure_id")
    for injury_id, on, procedure_id in told:
        found[injury_id].events.append((on, procedure_id))
    return found


def present_in(review: Review, found: Findings) -> Present:
    """Return what of an injury's findings lies inside a review's window, or up to its visit's day."""
    last = max(review.closes_on, review.attended_on or review.closes_on)

    def inside(rows: list[Any]) -> list[Any]:
        return [values for on, *values in rows if review.opens_on <= on <= last]

    views = inside(found.films)
    asked = review.attended_on is not None and bool(inside(found.events))
    return Present(
        film_views=frozenset(view for view, _ in views),
        other_side_views=frozenset(view for view, both in views if both),
        motion=bool(inside(found.exams)),
        scores=frozenset(instrument for (instrument,) in inside(found.scores)),
        asked=requirements.asked_of(review.asked, told=asked),
    )
