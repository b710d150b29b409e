from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.selectors import trace as lines
from registry.exchange import sheets
from registry.forms.trace import TraceForm
from registry.models.sites import Site
from registry.rules.notice_matching import Certainty
from registry.rules.trace_grades import GRADES
from registry.selectors import trace as selector
from registry.selectors.visible import may, require, visible
from registry.services import audit
from registry.views.step_up import confirmed

PER_PAGE = 50
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
SHOWS = {
    "certain": "Carry it",
    "near": "May carry it: near matches",
    "not_excluded": "Cannot be excluded",
}


@require_GET
def trace(request: HttpRequest) -> HttpResponse:
    require(request.user, "trace")
    form = _form(request)
    context: dict[str, Any] = {
        "form": form,
        "asked": False,
        "may_keep": may(request.user, "keep_notices"),
    }
    if form.is_bound and form.is_valid():
        if form.question().is_empty:
            form.add_error(None, "Give at least one mark of the part, or words of its model.")
        else:
            context |= {"asked": True} | _answer(request, form)
    return render(request, "followup/trace.html", context)


def _form(request: HttpRequest) -> TraceForm:
    asked = any(value.strip() for name, value in request.GET.items() if name not in ("page",))
    sites = visible(request.user, Site, "trace").order_by("name")
    return TraceForm(request.GET if asked else None, sites=sites)


def _shown(request: HttpRequest) -> str:
    show = request.GET.get("show", "certain")
    return show if show in SHOWS else "certain"


def _answer(request: HttpRequest, form: TraceForm) -> dict[str, Any]:
    question, shown = form.question(), _shown(request)
    answers = selector.answers(request.user, question)
    found = {name: answers[Certainty(name)] for name in SHOWS}
    counts = selector.counts(found[shown])
    totals = {name: rows.count() for name, rows in found.items() if name != shown}
    totals[shown] = sum(line.total for line in counts)
    paginator = Paginator(selector.in_detail(found[shown]), PER_PAGE)
    # It is known already; asking again costs as much as the list.
    paginator.count = totals[shown]
    page = paginator.get_page(request.GET.get("page"))
    shown_lines = lines.lines_of(request.user, list(page.object_list))
    _write_down_names(request, [one.patient.key for one in shown_lines if one.name])
    address = request.GET.copy()
    address.pop("page", None)
    address.pop("show", None)
    query = address.urlencode()
    return {
        "page": page,
        "lines": shown_lines,
        "shown": shown,
        "title": SHOWS[shown],
        "tabs": [
            {"name": name, "words": words, "number": totals[name], "query": f"{query}&show={name}"}
            for name, words in SHOWS.items()
        ],
        "counts": counts,
        "places": list(selector.PLACES.values()),
        "rows": [(line.site, list(line.places.values()), line.total) for line in counts],
        "query": f"{query}&show={shown}&",
        "nothing_near": not question.scope.names_article and not question.scope.batch,
    }


def _write_down_names(request: HttpRequest, keys: Sequence[str]) -> None:
    if keys:
        audit.record_list(by=request.user, keys=keys, now=timezone.now(), page="trace")


@require_GET
@confirmed
def as_csv(request: HttpRequest) -> StreamingHttpResponse:
    require(request.user, "trace")
    return csv_answer("trace", lines.HEADER, _taken(request))


@require_GET
@confirmed
def as_xlsx(request: HttpRequest) -> HttpResponse:
    require(request.user, "trace")
    return xlsx_answer("trace", lines.HEADER, _taken(request))


def _taken(request: HttpRequest) -> Iterator[tuple[object, ...]]:
    """Return the rows of a table of what was asked, none where nothing was, and write that down."""
    form = _form(request)
    if not form.is_bound or not form.is_valid() or form.question().is_empty:
        return iter(())
    shown = _shown(request)
    rows = selector.parts_of(request.user, form.question(), Certainty(shown))
    audit.record_taken(
        by=request.user,
        table="registry_part",
        row_id="",
        now=timezone.now(),
        what=f"trace as a table ({shown}): {request.GET.urlencode()}",
    )
    return lines.table(request.user, rows)


def csv_answer(
    name: str, header: Sequence[str], rows: Iterable[Sequence[object]]
) -> StreamingHttpResponse:
    """Answer with a table to keep, in which no cell can run as a formula."""
    answer = StreamingHttpResponse(_marked(header, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = _attached(name, "csv")
    return answer


def xlsx_answer(name: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """Answer with a workbook to keep, in which no cell can run as a formula."""
    answer = HttpResponse(content_type=XLSX)
    sheets.write_workbook(answer, name.title(), header, rows)
    answer["Content-Disposition"] = _attached(name, "xlsx")
    return answer


def _attached(name: str, kind: str) -> str:
    return f'attachment; filename="{name}-{timezone.localdate().isoformat()}.{kind}"'


def _marked(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    # A spreadsheet program takes text for UTF-8 only when it begins with the mark.
    yield "\ufeff"
    yield from sheets.csv_lines(header, rows)


@require_GET
def grades(request: HttpRequest) -> HttpResponse:
    require(request.user, "trace")
    found = selector.grades_of(request.user)
    context = {"grades": list(GRADES.values()), "tables": found}
    return render(request, "followup/trace_grades.html", context)
