from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers.literature import NO_TARGET, percent, to_rows
from analytics.figures.comparators import comparators, words
from analytics.selectors import definitions
from analytics.selectors.literature import literature_answer, published
from analytics.views.asked import ask_endpoint, choices, given
from analytics.views.tables import csv_file


@require_GET
def literature(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    endpoints = published().endpoints()
    if view.rule.endpoint not in endpoints:
        return ask_endpoint(request, view, endpoints)
    result = literature_answer(view)
    return render(
        request,
        "analytics/literature.html",
        {
            **choices(request, view),
            "result": result,
            "endpoints": [
                {
                    "words": definitions.words(endpoint),
                    "query": view.rule.address(endpoint=endpoint, definition=""),
                    "here": endpoint == view.rule.endpoint,
                }
                for endpoint in endpoints
            ],
            "comparisons": [
                {
                    "one": one,
                    "ours": one.local and percent(one.local.rate.estimate),
                    "rows": [
                        (row, f"{percent(row.rate.low)} to {percent(row.rate.high)}")
                        for row in one.rows
                    ],
                }
                for one in result.comparisons
            ],
            "figure": comparators(result),
            "words": words(result),
            "no_target": NO_TARGET,
            "left_out": published().left_out,
            "message": message,
        },
    )


@require_GET
def literature_csv(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    rows = to_rows(literature_answer(view))
    return csv_file(rows, view, message, f"literature-{view.rule.endpoint}.csv")
