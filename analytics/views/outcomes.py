from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import outcomes as answers
from analytics.answers import outside
from analytics.answers.horizons import HORIZONS
from analytics.answers.terms import terms
from analytics.endpoints.catalogue import ON_FILMS, definitions_of
from analytics.figures.curves import curves
from analytics.figures.forests import forest
from analytics.figures.words import curve_words, forest_words
from analytics.selectors import outcomes as selector
from analytics.selectors.outcomes import Given
from analytics.views.asked import ask_endpoint, choices, given
from analytics.views.behind import keys_behind, words_for
from analytics.views.opened import case_page
from analytics.views.rows import row_context
from analytics.views.strips import strip_context
from analytics.views.tables import table_file
from analytics.views.timing import timing_context
from registry.selectors.visible import require


@require_GET
def outcomes(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    if view.rule.endpoint not in ON_FILMS:
        return ask_endpoint(request, view, ON_FILMS)
    if view.unchosen is not None:
        return _unchosen(request, view, message)
    result = selector.outcome_answer(view)
    return render(
        request,
        "analytics/outcomes.html",
        {
            **choices(request, view),
            "result": result,
            "rows": [row_context(row, view.rule) for row in (*result.rows, result.total)],
            "definitions": definitions_of(view.rule.endpoint),
            "definition": view.definition,
            "terms": terms(view.definition),
            "forest": forest(result),
            "forest_words": forest_words(result),
            "curves": curves(result),
            "curve_words": curve_words(result),
            "message": message,
            "strip": strip_context(request, view),
            "timing": timing_context(request, view),
            "horizon_name": result.horizon.name,
        },
    )


def _unchosen(request: HttpRequest, view: Given, message: str) -> HttpResponse:
    """Ask for a definition, and show what each that ships would say."""
    return render(
        request,
        "analytics/outcomes_unchosen.html",
        {
            **choices(request, view),
            "definitions": definitions_of(view.rule.endpoint),
            "strip": strip_context(request, view),
            "horizon_name": HORIZONS[view.rule.horizon].name,
            "message": message,
        },
    )


@require_GET
def outcomes_csv(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    rows = [] if message else answers.to_rows(selector.outcome_answer(view))
    name = f"outcomes-{view.rule.endpoint}-{view.rule.horizon}"
    return table_file(rows, view, message, name, outside.RATES)


@require_GET
def cases(request: HttpRequest) -> HttpResponse:
    """Open a number: the cases behind it, each with its verdict in a sentence."""
    require(request.user, "see_cases")
    view, message = given(request)
    result = selector.outcome_answer(view)
    group = request.GET.get("group", "")
    which = request.GET.get("which", "operated")
    rows = {row.group: row for row in (*result.rows, result.total)}
    row = rows.get(group or answers.ALL)
    keys = None if row is None else keys_behind(view, result, row, which)
    if keys is None:
        raise Http404
    return case_page(
        request,
        view,
        result,
        keys,
        what=words_for(which),
        group=group or "all groups",
        message=message,
        back_url="outcomes" if view.rule.endpoint in ON_FILMS else "harms",
    )
