from collections.abc import Iterator
from datetime import date

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.forms.due_filters import day_of, number_of, wanted_of
from followup.models.calendars import Clinic
from followup.models.reviews import Review
from followup.selectors import papers
from followup.selectors.due import SHOWS
from followup.selectors.due_export import HEADER, export_rows
from followup.selectors.sums import nights, review_sums
from followup.selectors.visible import visible
from registry.exchange import sheets
from registry.selectors.visible import require
from registry.services import audit
from registry.views.patients import log_list
from registry.views.step_up import confirmed

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_GET
def sums(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    context = {"sums": review_sums(request.user), "nights": nights(request.user)}
    return render(request, "followup/review_sums.html", context)


@require_GET
def clinic_list(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_clinic")
    day = day_of(request.GET.get("day", "")) or timezone.localdate()
    clinic_id = number_of(request.GET.get("clinic", ""))
    found = papers.clinic_sheets(request.user, day, clinic_id)
    log_list(request, [line.patient for sheet in found for line in sheet.lines])
    context = {
        "day": day,
        "clinic_id": clinic_id,
        "clinics": visible(request.user, Clinic, "see_clinic").select_related("site"),
        "sheets": found,
        "printed_at": timezone.localtime(),
    }
    return render(request, "followup/clinic_list.html", context)


@require_GET
def call_sheet(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    today = timezone.localdate()
    wanted = wanted_of(request.GET)
    sheet = papers.call_sheet(request.user, today, wanted)
    log_list(request, [line.review.procedure.injury.patient for line in sheet.rows])
    context = {
        "sheet": sheet,
        "shown": SHOWS[wanted.show],
        "address": wanted.address(),
        "today": today,
        "printed_at": timezone.localtime(),
    }
    return render(request, "followup/call_sheet.html", context)


@require_GET
@confirmed
def due_csv(request: HttpRequest) -> StreamingHttpResponse:
    today, rows = _taken(request)
    answer = StreamingHttpResponse(_marked(rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="due-{today.isoformat()}.csv"'
    return answer


def _taken(request: HttpRequest) -> tuple[date, Iterator[tuple[object, ...]]]:
    """Return the day and the lines of the list that somebody takes along, and write down that they do."""
    require(request.user, "see_due")
    today, wanted = timezone.localdate(), wanted_of(request.GET)
    audit.record_taken(
        by=request.user,
        table=Review._meta.db_table,
        row_id="",
        now=timezone.now(),
        what=f"due list taken: {SHOWS[wanted.show].lower()}",
    )
    return today, export_rows(request.user, today, wanted)


def _marked(rows: Iterator[tuple[object, ...]]) -> Iterator[str]:
    # A spreadsheet program takes text for UTF-8 only when it begins with the mark.
    yield "\ufeff"
    yield from sheets.csv_lines(HEADER, rows)


@require_GET
@confirmed
def due_xlsx(request: HttpRequest) -> HttpResponse:
    today, rows = _taken(request)
    answer = HttpResponse(content_type=XLSX)
    answer["Content-Disposition"] = f'attachment; filename="due-{today.isoformat()}.xlsx"'
    sheets.write_workbook(answer, "Due", HEADER, rows)
    return answer
