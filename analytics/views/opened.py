"""A number opened: the cases behind it, by key, each with its verdict and what decided it."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from analytics.answers.outcomes import Answer
from analytics.answers.sentences import verdict_sentences
from analytics.endpoints.verdicts import deciding_readings
from analytics.selectors import cases as case_selector
from analytics.selectors import outcomes as selector
from analytics.selectors.outcomes import Given
from registry.selectors.visible import may


def case_page(
    request: HttpRequest,
    view: Given,
    result: Answer,
    keys: Sequence[int],
    **words: str,
) -> HttpResponse:
    """Show the cases behind a number; `words` are what, group, message and back_url."""
    page = case_selector.page_of(request.user, keys, request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    return render(
        request,
        "analytics/cases.html",
        {
            "page": page,
            "lines": _verdicts(result, page),
            "number": len(keys),
            "provenance": selector.provenance(view),
            "query": f"{query.urlencode()}&" if query else "",
            "back": view.rule.address(),
            "may_open": may(request.user, "see_patient"),
            **words,
        },
    )


def _verdicts(result: Answer, page: Any) -> list[tuple[Any, str, list[int]]]:
    """Return the procedures of a page, each with its verdict and the readings that decided it."""
    keys = [procedure.pk for procedure in page]
    said = verdict_sentences(result.applied, keys)
    decided = deciding_readings(result.applied, keys).groupby("procedure_id")["reading_id"]
    readings = {key: sorted(set(numbers)) for key, numbers in decided}
    return [(procedure, said[procedure.pk], readings.get(procedure.pk, [])) for procedure in page]
