from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import function as answers
from analytics.answers import outside
from analytics.answers.function import HARDWARE, MISSING, ChangeRow, FunctionAnswer, StepRow
from analytics.answers.measures import MEASURES, Measure
from analytics.answers.outcomes import ALL, percent
from analytics.figures.function import middle, over_time, over_time_words
from analytics.selectors import outcomes as outcome_selector
from analytics.selectors.function import behind, function_answer, measure_of, overview
from analytics.selectors.kept import kept as once
from analytics.selectors.outcomes import Given
from analytics.views.asked import choices, given
from analytics.views.opened import case_page
from analytics.views.tables import table_file
from analytics.views.typed import also, kept
from registry.errors import BadInput
from registry.selectors.visible import require


@require_GET
def function(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    measure, fault = _measure(request)
    found = function_answer(view, measure)
    return render(
        request,
        "analytics/function.html",
        {
            **choices(request, view),
            "message": message,
            "fault": fault,
            "kept": kept(view.rule),
            "also": also(request, "measure"),
            "operated": len(view.data.cases),
            "measures": MEASURES.values(),
            "measure": measure,
            "horizon": found.horizon,
            "open": f"{view.rule.address()}&measure={measure.code}",
            "address": view.rule.address(),
            "overview": once(view, "function-overview", lambda: _overviews(view)),
            "steps": _steps(found),
            "changes": [_change(measure, row) for row in found.changes if row.pairs],
            "figure": over_time(found, view.min_at_risk),
            "words": over_time_words(found),
            "reasons": "; ".join(MISSING.values()),
        },
    )


def _overviews(view: Given) -> list[dict[str, Any]]:
    """Return a line for each measure: it takes nine times as long as the measure that was asked for."""
    return [_overview(one.measure, one.row) for one in overview(view)]


@require_GET
def function_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    measure, fault = _measure(request)
    found, name = function_answer(view, measure), f"function-{measure.code}.csv"
    if view.outside:
        steps = answers.step_rows(found)
        return table_file(steps, view, message or fault, name, outside.function(steps))
    return table_file(answers.to_rows(found), view, message or fault, name)


@require_GET
def function_cases(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_cases")
    view, message = given(request)
    measure, fault = _measure(request)
    group = request.GET.get("group", "")
    which = request.GET.get("which", f"{view.rule.horizon}:has")
    found = behind(function_answer(view, measure), which, group)
    if found is None or fault:
        raise Http404
    return case_page(
        request,
        view,
        outcome_selector.outcome_answer(view),
        found[1],
        what=found[0],
        group=group or "all groups",
        message=message,
        back_url="function",
    )


def _measure(request: HttpRequest) -> tuple[Measure, str]:
    try:
        return measure_of(request.GET.get("measure", "")), ""
    except BadInput as fault:
        return measure_of(""), str(fault)


def _overview(measure: Measure, row: StepRow) -> dict[str, Any]:
    return {"measure": measure, "middle": middle(measure, row), **_counts(row)}


def _counts(row: StepRow) -> dict[str, Any]:
    return {
        "number": row.number,
        "eligible": row.eligible,
        "absent": row.eligible - row.number,
        "acceptable": _acceptable(row),
        "hardware": "; ".join(
            f"{number} {HARDWARE[code]}" for code, number in row.hardware.items() if number
        ),
    }


def _acceptable(row: StepRow) -> str:
    if row.acceptable is None:
        return ""
    found = row.acceptable.estimate
    if found is None:
        return "nobody"
    return (
        f"{row.acceptable.number}/{row.acceptable.of}, {percent(found.estimate)} "
        f"({percent(found.low)} to {percent(found.high)})"
    )


def _steps(found: FunctionAnswer) -> list[dict[str, Any]]:
    """Return for each horizon its rows, the total last."""
    steps: dict[str, list[dict[str, Any]]] = {}
    for row in found.shown:
        steps.setdefault(row.horizon.name, []).append(
            {
                "group": row.group,
                "link": "" if row.group == ALL else row.group,
                "horizon": row.horizon.code,
                "middle": middle(found.measure, row),
                "ended": row.ended,
                "missing": "; ".join(
                    f"{number} {MISSING[code]}" for code, number in row.missing.items() if number
                ),
                **_counts(row),
            }
        )
    return [{"name": name, "rows": rows} for name, rows in steps.items()]


def _change(measure: Measure, row: ChangeRow) -> dict[str, Any]:
    change = row.change
    words = ""
    if change is not None:
        words = f"{round(change.median, 1):+g}{measure.unit}"
        if change.low is not None and change.high is not None:
            words += f" ({round(change.low, 1):+g} to {round(change.high, 1):+g})"
        else:
            words += " (too few pairs for an interval)"
    return {
        "group": row.group,
        "pairs": row.pairs,
        "words": words,
        "rose": row.rose,
        "same": row.same,
        "fell": row.fell,
        "first": f"day {row.first_day:.0f}" if row.first_day is not None else "",
    }
