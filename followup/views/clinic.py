from datetime import date

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.selectors import clinic as selector
from registry.selectors.visible import may, require
from registry.views.patients import log_list

# More than any site sees on a day; somebody who sees many sites turns the page.
PER_PAGE = 100


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
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    log_list(request, [slot.review.procedure.injury.patient for slot in page])
    return render(
        request,
        "followup/clinic.html",
        {
            "page": page,
            "query": f"day={day}&who={'all' if everybody else 'me'}&",
            "day": day,
            "today": today,
            "everybody": everybody,
        },
    )
