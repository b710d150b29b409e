from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import enough as answers
from analytics.answers.enough import EnoughAnswer, Side, Typed
from analytics.answers.outcomes import Answer, percent, to_rows
from analytics.answers.outside import compared
from analytics.endpoints.catalogue import definitions_of
from analytics.figures.enough import power_words, powers, width_words, widths
from analytics.selectors import outcomes as outcome_selector
from analytics.selectors.enough import enough_answer
from analytics.selectors.outcomes import Given
from analytics.views.asked import choices, given
from analytics.views.tables import table_file
from analytics.views.typed import also, kept, number, share
from registry.errors import BadInput
from registry.selectors.visible import require

MOST_A_YEAR = 10_000
TYPED = ("one", "other", "rate_one", "rate_other", "year_one", "year_other")


@require_GET
def enough(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    if view.data.cases.empty:
        return render(
            request, "analytics/enough.html", {**choices(request, view), "message": message}
        )
    result = outcome_selector.outcome_answer(view)
    found, fault = _asked(request, view, result)
    context = {
        **choices(request, view),
        "definitions": definitions_of(view.rule.endpoint),
        "definition": view.definition,
        "message": message,
        "fault": fault,
        "names": [row.group for row in result.rows],
        "operated": result.total.operated,
        "kept": kept(view.rule),
        "also": also(request, *TYPED),
        "typed": {name: request.GET.get(name, "") for name in TYPED},
        "csv": request.GET.urlencode(),
    }
    if found:
        context |= {
            "found": found,
            "sides": [_side(found.one), _side(found.other)],
            "years": [_year(year) for year in found.years],
            "widths": widths(found),
            "width_words": width_words(found),
            "powers": powers(found),
            "power_words": power_words(found),
        }
    return render(request, "analytics/enough.html", context)


@require_GET
def enough_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    result = outcome_selector.outcome_answer(view)
    found, fault = _asked(request, view, result)
    rows = answers.to_rows(found) if found else []
    name, shape = f"enough-{view.rule.endpoint}.csv", None
    if view.outside and found:
        # What is expected of the years ahead follows from exact counts: only where they start may leave.
        rows, shape = to_rows(result), compared([found.one.group, found.other.group])
    return table_file(rows, view, message or fault, name, shape)


def _asked(request: HttpRequest, view: Given, result: Answer) -> tuple[EnoughAnswer | None, str]:
    """Return the comparison that was asked for, and what of it could not be read."""
    faults: list[str] = []
    typed = tuple(
        Typed(
            rate=share(request, f"rate_{side}", f"The rate of the {words} group", faults),
            a_year=number(
                request,
                f"year_{side}",
                f"Judged cases a year of the {words} group",
                (0, MOST_A_YEAR),
                faults,
            ),
        )
        for side, words in (("one", "first"), ("other", "second"))
    )
    names = request.GET.get("one", ""), request.GET.get("other", "")
    try:
        found = enough_answer(view, result, names, (typed[0], typed[1]))
    except BadInput as fault:
        return None, "; ".join([*faults, str(fault)])
    return found, "; ".join(faults)


def _side(side: Side) -> dict[str, Any]:
    return {
        "group": side.group,
        "seen": f"{side.events} of {side.evaluable}",
        "eligible": side.eligible,
        "operated": f"{side.operated_a_year:.1f}",
        "rate": "not known" if side.rate is None else percent(side.rate),
        "rate_from": "typed" if side.typed else "as observed",
        "a_year": f"{side.a_year:.1f}",
        "a_year_from": "typed" if side.typed_a_year else "as now",
    }


def _after(years: int) -> str:
    return "now" if not years else f"{years} more year" + ("" if years == 1 else "s")


def _year(year: answers.Year) -> dict[str, Any]:
    interval = year.interval
    return {
        "years": _after(year.years),
        "one": year.one,
        "other": year.other,
        "interval": f"{percent(interval.low)} to {percent(interval.high)}",
        "width": f"{year.width * 100:.1f}",
        "power": percent(year.power),
    }
