from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.selectors import responses as selector
from registry.exchange import sheets
from registry.selectors.visible import require

A_YEAR = timedelta(days=365)


@require_GET
def responses(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_responses")
    since = _since(request)
    context = {"since": since, "found": _found(request, since)}
    return render(request, "followup/responses.html", context)


@require_GET
def responses_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_responses")
    since = _since(request)
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="responses-{since}.csv"'
    rows = [["# until", timezone.localdate()], *selector.to_rows(_found(request, since))]
    answer.writelines(sheets.csv_lines(["# since", str(since)], rows))
    return answer


def _found(request: HttpRequest, since: date) -> selector.Responses:
    return selector.responses(
        request.user, since=since, now=timezone.now(), today=timezone.localdate()
    )


def _since(request: HttpRequest) -> date:
    try:
        return date.fromisoformat(request.GET.get("since", ""))
    except ValueError:
        return timezone.localdate() - A_YEAR
