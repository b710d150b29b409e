from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.selectors import clinic as selector
from registry.selectors.visible import may, require


@require_GET
def clinic(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_clinic")
    today = timezone.localdate()
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        day = today
    everybody = request.GET.get("who") == "all" or not may(request.user, "record_visit")
    rows = selector.appointments_on(request.user, day, None if everybody else request.user)
    return render(
        request,
        "followup/clinic.html",
        {"rows": rows, "day": day, "today": today, "everybody": everybody},
    )
