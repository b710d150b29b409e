"""When it happened beside when it was found, as a part of 'Did it hold?'."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from analytics.answers import timing
from analytics.answers.outcomes import percent
from analytics.answers.timing import At, Course, Timing, span_words
from analytics.endpoints.catalogue import LOSS, UNION
from analytics.figures.intervals import intervals
from analytics.selectors import outcomes as selector
from analytics.selectors.kept import is_kept, kept
from analytics.selectors.outcomes import Given
from analytics.views.asked import given
from analytics.views.strips import interval
from analytics.views.tables import csv_file

NAME = "timing"
# What happens between two films; nonunion at six months is known to the day.
BETWEEN_FILMS = (LOSS, UNION)


@require_GET
def timing_csv(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    if view.rule.endpoint not in BETWEEN_FILMS:
        raise Http404
    rows = [] if message else timing.to_rows(_found(view))
    return csv_file(rows, view, message, f"timing-{view.rule.endpoint}.csv")


def timing_context(request: HttpRequest, view: Given) -> dict[str, Any] | None:
    """Return figure and table of the timing; None where nobody asked for what takes long.

    Resampling takes its time, so it is done once for a snapshot and an address, when asked for.
    """
    if view.rule.endpoint not in BETWEEN_FILMS:
        return None
    if request.GET.get("show") != "timing" and not is_kept(view, NAME):
        return {"found": None}
    found = _found(view)
    courses = (*found.courses, *([found.total] if found.total else ()))
    return {
        "found": found,
        "figure": intervals(found),
        "rows": [_row(course, _here(course, view.rule.horizon)) for course in courses],
    }


def _found(view: Given) -> Timing:
    return kept(view, NAME, lambda: selector.timing_answer(view))


def _here(course: Course, horizon: str) -> At:
    return next(one for one in course.at if one.horizon.code == horizon)


def _row(course: Course, one: At) -> dict[str, Any]:
    lies = one.between
    return {
        "group": course.group,
        "subjects": course.subjects,
        "events": course.events,
        "known": one.known,
        "span": span_words(lies) if lies else "",
        "limits": f"{percent(lies.low)} to {percent(lies.high)}" if lies else "",
        "method": lies.method if lies else "",
        "found": interval(one.found),
    }
