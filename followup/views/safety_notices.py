from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.exchange import evidence_pages, evidence_words
from followup.selectors import carriers as lines
from followup.views.trace import csv_answer, xlsx_answer
from registry.errors import HoldfastError
from registry.forms import safety_notices as forms
from registry.models.safety_notices import CarrierState, NoticeCarrier, SafetyNotice
from registry.models.sites import Site
from registry.selectors import reconciliation as selector
from registry.selectors.visible import may, require, site_ids, visible
from registry.services import audit
from registry.services import safety_notices as service
from registry.views.conflicts import try_to_save
from registry.views.step_up import confirmed

PER_PAGE = 50
ON_PAPER = 500
IN_A_FILE = 2000


@require_GET
def notices(request: HttpRequest) -> HttpResponse:
    require(request.user, "trace")
    rows = selector.notices_seen(request.user)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "may_keep": may(request.user, "keep_notices"),
        "today": timezone.localdate(),
        "query": "",
    }
    return render(request, "followup/safety_notices.html", context)


def _notice(request: HttpRequest, notice_id: int, right: str = "trace") -> SafetyNotice:
    rows = visible(request.user, SafetyNotice, right).select_related("owner", "recorded_by")
    found: SafetyNotice = get_object_or_404(rows.prefetch_related("scopes"), pk=notice_id)
    return found


@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    require(request.user, "keep_notices")
    today = timezone.localdate()
    start = {"received_on": today, "owner": request.user.pk, "version": 1}
    form = _form(request, start)
    given = forms.LinesForm(request.POST or None, prefix="line")

    def save() -> str:
        notice = service.record_notice(
            values=form.values(), lines=given.given(), by=request.user, now=timezone.now()
        )
        return f"Entered: {notice}. Whom it is about was looked for at every site."

    return _entered(request, form, given, "Which notice came in?", save, None)


@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, notice_id: int) -> HttpResponse:
    require(request.user, "keep_notices")
    notice = _notice(request, notice_id, "keep_notices")
    form = _form(request, _now(notice))
    given = forms.LinesForm(request.POST or None, prefix="line", initial=forms.lines_of(notice))

    def save() -> str:
        service.correct_notice(
            notice=notice,
            values=form.values(),
            lines=given.given(),
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: {notice}. Whom it is about was looked for again."

    return _entered(request, form, given, "What does the notice say?", save, notice)


def _form(request: HttpRequest, start: dict[str, Any]) -> forms.NoticeForm:
    owners = selector.owners_for(request.user, timezone.localdate())
    return forms.NoticeForm(request.POST or None, initial=start, owners=owners)


def _now(notice: SafetyNotice) -> dict[str, Any]:
    values = {name: getattr(notice, name) for name in forms.NOTICE}
    return {**values, "owner": notice.owner_id, "version": notice.version}


def _entered(
    request: HttpRequest, form: Any, given: Any, title: str, save: Any, notice: Any
) -> HttpResponse:
    conflict = None
    if request.method == "POST":
        # Both are asked, so that every fault shows at once.
        fine = [form.is_valid(), given.is_valid()]
        if all(fine):
            done, conflict = try_to_save(
                request, form, save, lambda: _now(SafetyNotice.objects.get(pk=notice.pk))
            )
            if done:
                saved = SafetyNotice.objects.get(reference=form.cleaned_data["reference"])
                return redirect("trace-notice", saved.pk)
    context = {
        "form": form,
        "lines": given,
        "title": title,
        "conflict": conflict,
        "notice": notice,
        "refused_lines": [error for line in given.forms for error in line.errors.values()],
    }
    status = 409 if conflict else 200
    return render(request, "followup/safety_notice_form.html", context, status=status)


@require_GET
def notice(request: HttpRequest, notice_id: int) -> HttpResponse:
    require(request.user, "trace")
    row = _notice(request, notice_id)
    state = request.GET.get("state", "")
    rows = selector.carriers_seen(request.user, row)
    if state in CarrierState.values:
        rows = rows.filter(state=state)
    page = Paginator(selector.with_steps(rows), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "state": state,
        "states": CarrierState.choices,
        "query": f"state={state}&" if state else "",
        "may_keep": may(request.user, "keep_notices"),
        **_reconciled(request, row, list(page.object_list)),
    }
    return render(request, "followup/safety_notice.html", context)


@require_GET
def evidence(request: HttpRequest, notice_id: int) -> HttpResponse:
    require(request.user, "trace")
    row = _notice(request, notice_id)
    rows = selector.with_steps(selector.carriers_seen(request.user, row))
    page = Paginator(rows, ON_PAPER).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "query": "",
        "printed_at": timezone.localtime(),
        **_reconciled(request, row, list(page.object_list)),
    }
    return render(request, "followup/safety_notice_evidence.html", context)


def _reconciled(request: HttpRequest, row: SafetyNotice, shown: list[Any]) -> dict[str, Any]:
    sums = selector.reconciliation(request.user, row)
    found = lines.lines_of(request.user, shown)
    named = [one.patient.key for one in found if one.name]
    if named:
        now, page = timezone.now(), f"safety notice {row.reference}"
        audit.record_list(by=request.user, keys=named, now=now, page=page)
    closable = {site.pk for site in selector.closable_sites(request.user, row)}
    return {
        "notice": row,
        "about": [selector.line_words(line) for line in row.scopes.all()],
        "sums": [{"of": one, "may_close": one.site.pk in closable} for one in sums],
        "total": selector.total(sums),
        "columns": [state.label for state in selector.OF_CARRIERS],
        "lines": found,
        "settles_at": site_ids(request.user, "settle_carriers"),
        "today": timezone.localdate(),
    }


@require_GET
@confirmed
def as_csv(request: HttpRequest, notice_id: int) -> StreamingHttpResponse:
    require(request.user, "trace")
    return csv_answer("notice", lines.HEADER, _taken(request, notice_id))


@require_GET
@confirmed
def as_xlsx(request: HttpRequest, notice_id: int) -> HttpResponse:
    require(request.user, "trace")
    return xlsx_answer("notice", lines.HEADER, _taken(request, notice_id))


def _taken(request: HttpRequest, notice_id: int) -> Iterator[tuple[object, ...]]:
    row = _notice(request, notice_id)
    _write_down(request, row, "as a table")
    return lines.evidence(request.user, row)


def _write_down(request: HttpRequest, row: SafetyNotice, how: str) -> None:
    audit.record_taken(
        by=request.user,
        table="registry_safetynotice",
        row_id=str(row.pk),
        now=timezone.now(),
        what=f"evidence of safety notice {row.reference} {how}",
    )


@require_GET
@confirmed
def as_pdf(request: HttpRequest, notice_id: int) -> HttpResponse:
    require(request.user, "trace")
    row = _notice(request, notice_id)
    # Taken by key too, where no list of names is written down.
    _write_down(request, row, "as a PDF")
    rows = selector.with_steps(selector.carriers_seen(request.user, row))
    # One more than fits says whether there are any.
    shown = list(rows[: IN_A_FILE + 1])
    found = _reconciled(request, row, shown[:IN_A_FILE])
    now = timezone.localtime()
    pages = evidence_words.pages_of(
        notice=row,
        about=found["about"],
        sums=[one["of"] for one in found["sums"]],
        total=found["total"],
        lines=found["lines"],
        more=len(shown) > IN_A_FILE,
        who=str(request.user),
        now=now,
    )
    answer = HttpResponse(evidence_pages.pdf_of(pages, now), content_type="application/pdf")
    answer["Content-Disposition"] = f'attachment; filename="notice-{row.pk}-{now:%Y-%m-%d}.pdf"'
    return answer


@require_POST
def close(request: HttpRequest, notice_id: int, site_id: int) -> HttpResponse:
    require(request.user, "keep_notices")
    row = _notice(request, notice_id, "keep_notices")
    site = get_object_or_404(visible(request.user, Site, "keep_notices"), pk=site_id)
    try:
        service.close_notice(
            notice=row,
            site=site,
            note=request.POST.get("note", ""),
            by=request.user,
            now=timezone.now(),
        )
    except HoldfastError as fault:
        messages.error(request, str(fault))
    else:
        messages.success(request, f"{row.reference} is closed at {site}.")
    return redirect("trace-notice", row.pk)


@require_http_methods(["GET", "POST"])
def carrier(request: HttpRequest, carrier_id: int) -> HttpResponse:
    require(request.user, "settle_carriers" if request.method == "POST" else "trace")
    rows = selector.with_steps(selector.carriers_seen(request.user))
    row: NoticeCarrier = get_object_or_404(rows, pk=carrier_id)
    if request.method == "POST":
        require(request.user, "settle_carriers", row.site_id)
    today = timezone.localdate()
    form = forms.StepForm(
        request.POST or None, initial={"version": row.version, "on": today}, carrier=row
    )
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            moved = service.take_step(
                carrier=row,
                step=form.cleaned_data["step"],
                on=form.cleaned_data["on"],
                note=form.cleaned_data["note"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
            )
            return f"Recorded: {moved.get_state_display().lower()}."

        done, conflict = try_to_save(request, form, save, dict)
        if done:
            return redirect("trace-notice", row.notice_id)
        row = rows.get(pk=carrier_id)
    (line,) = lines.lines_of(request.user, [row])
    if line.name:
        audit.record_read(
            by=request.user, patient=line.patient, now=timezone.now(), page="safety notice"
        )
    context = {
        "line": line,
        "carrier": row,
        "notice": row.notice,
        "form": form,
        "conflict": conflict,
        "may_settle": row.site_id in site_ids(request.user, "settle_carriers"),
    }
    return render(request, "followup/safety_carrier.html", context, status=409 if conflict else 200)
