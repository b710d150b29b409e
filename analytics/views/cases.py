from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from analytics.answers.case import CaseVerdict
from analytics.answers.case_words import STATES, explain, numbers, threshold
from analytics.endpoints.definition import REASONS
from analytics.figures.svg_case import caption, case_axis
from analytics.selectors import cases as selector
from analytics.selectors.case_panel import CasePanel, panel_of
from registry.selectors.visible import may, require


@require_GET
def case(request: HttpRequest, procedure_id: int) -> HttpResponse:
    require(request.user, "see_cases")
    rows = selector.index_procedures(request.user)
    procedure = get_object_or_404(rows, pk=procedure_id)
    panel = panel_of(procedure, timezone.localdate())
    return render(
        request,
        "analytics/case.html",
        {
            "procedure": procedure,
            "injury": procedure.injury,
            "may_open": may(request.user, "see_patient"),
            "may_choose": may(request.user, "set_up"),
            "own": None if panel.own is None else shown(panel.own, panel),
            "others": [_line(one) for one in panel.others],
        },
    )


def shown(verdict: CaseVerdict, panel: CasePanel) -> dict[str, Any]:
    """Return one verdict with its sentence and its drawing, as a page shows it."""
    return {
        **_line(verdict),
        "drawing": case_axis(verdict, panel.performed_on, panel.happenings),
        "caption": caption(verdict),
        "films": [
            {"film": one, "part": _part(one.film_id, verdict), "said": _said(one)}
            for one in verdict.films
        ],
    }


def _line(verdict: CaseVerdict) -> dict[str, Any]:
    return {
        "definition": verdict.definition,
        "threshold": threshold(verdict.definition),
        "state": STATES[verdict.state],
        "is_lost": verdict.state == "lost",
        "sentence": explain(verdict),
        "number": numbers(verdict),
        "why_not": REASONS.get(verdict.why_not, ""),
        "held": verdict.last_held,
        "lost": verdict.first_lost,
    }


def _part(film_id: int, verdict: CaseVerdict) -> str:
    parts = {
        "first film": verdict.baseline,
        "last that held": verdict.last_held,
        "first that did not": verdict.first_lost,
    }
    return ", ".join(words for words, one in parts.items() if one and one.film_id == film_id)


def _said(film: Any) -> str:
    if film.apart:
        return f"not compared: {film.apart}"
    return "over the threshold" if film.lost else "held"
