from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.forms.imports import UploadForm
from followup.models.imports import DraftState, ImportDraft
from followup.rules.case_columns.catalogue import template
from followup.selectors import imports as found
from followup.services import (
    case_export,
    import_drafts,
    import_rejects,
    import_runs,
    import_work,
    uploads,
)
from registry.errors import HoldfastError
from registry.exchange import sheets
from registry.models.imports import ImportBatch
from registry.models.sites import Site
from registry.selectors.visible import require, visible
from registry.services import audit
from registry.views.step_up import confirmed

PER_PAGE = 100
# What a page can do while somebody waits; the rest is for the worker.
INLINE_ROWS, INLINE_BYTES = 300, 300_000


@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    require(request.user, "import_cases")
    form = UploadForm(
        request.POST or None,
        request.FILES or None,
        sites=visible(request.user, Site, "import_cases"),
    )
    if request.method == "POST" and form.is_valid():
        draft = uploads.keep_upload(
            content=form.cleaned_data["file"],
            name=form.cleaned_data["file"].name,
            site=form.cleaned_data["site"],
            by=request.user,
            now=timezone.now(),
        )
        work_on(draft)
        if not draft.fault:
            return redirect(step_of(draft), token=draft.token)
        uploads.forget_upload(draft)
        form.add_error("file", draft.fault)
    context = {
        "form": form,
        "batches": found.latest_batches(request.user),
        "drafts": found.drafts_in_work(request.user),
        "sites": form.fields["site"].queryset,
    }
    return render(request, "followup/import.html", context)


@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    if request.method == "POST":
        return _start(request, draft)
    if step_of(draft) != "import-check":
        return redirect(step_of(draft), token=token)
    if request.GET.get("part") == "progress" and draft.at_work:
        return render(request, "followup/_import_progress.html", {"draft": draft})
    page = Paginator(found.faults_of(draft), PER_PAGE).get_page(request.GET.get("page"))
    context: dict[str, Any] = {
        "draft": draft,
        "page": page,
        "query": "",
        "known": found.known_of(draft)[:PER_PAGE],
        "more_known": max(0, draft.rows_known - PER_PAGE),
        "open_pairs": found.open_pairs(draft),
        "pairs": draft.pairs.count(),
        "left_out": _left_out(draft),
    }
    return render(request, "followup/import_check.html", context)


@require_POST
def discard(request: HttpRequest, token: str) -> HttpResponse:
    draft = kept(request, token)
    try:
        uploads.discard(draft, by=request.user, now=timezone.now())
    except HoldfastError as fault:
        messages.warning(request, str(fault))
        return redirect("import-check", token=token)
    messages.success(request, f"{draft.file_name} is discarded; what was imported of it stays.")
    return redirect("import")


@require_GET
@confirmed
def rejected(request: HttpRequest, token: str) -> StreamingHttpResponse:
    draft = kept(request, token)
    audit.record_taken(
        by=request.user,
        table=draft._meta.db_table,
        row_id=str(draft.pk),
        now=timezone.now(),
        what="lines that were refused taken",
    )
    name = f"{draft.file_name.rsplit('.', 1)[0]}-rejected.csv"
    # A spreadsheet program takes text for UTF-8 only when it begins with the mark.
    lines = _marked(import_rejects.lines(draft))
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@require_GET
def template_file(request: HttpRequest) -> HttpResponse:
    require(request.user, "import_cases")
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="cases.csv"'
    sheets.write_rows(answer, *template())
    return answer


@require_GET
@confirmed
def cases(request: HttpRequest, site_id: int) -> StreamingHttpResponse:
    require(request.user, "import_cases")
    site = get_object_or_404(visible(request.user, Site, "import_cases"), pk=site_id)
    sees_names = visible(request.user, Site, "see_identity").filter(pk=site.pk).exists()
    people = case_export.named if sees_names else case_export.unnamed
    case_export.write_down(site, names=sees_names, by=request.user, now=timezone.now())
    lines = _marked(case_export.lines(site, case_export.Written(), people))
    answer = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="cases-{site.code}.csv"'
    return answer


def kept(request: HttpRequest, token: str) -> ImportDraft:
    require(request.user, "import_cases")
    draft = uploads.kept_upload(token, visible(request.user, Site, "import_cases"))
    if draft is None:
        raise Http404
    return draft


def work_on(draft: ImportDraft) -> None:
    """Do at once what is short; what is long waits for the worker."""
    short = draft.size <= INLINE_BYTES and draft.rows <= INLINE_ROWS
    if short and draft.at_work:
        import_work.work(draft, now=timezone.now(), today=timezone.localdate())


def step_of(draft: ImportDraft) -> str:
    """Return the name of the page on which a person goes on with a file."""
    if draft.fault or draft.state != DraftState.SETTLING:
        return "import-check"
    if draft.previews:
        return "import-text"
    if not draft.columns_settled:
        return "import-columns"
    return "import-days" if not draft.days_settled else "import-words"


def _start(request: HttpRequest, draft: ImportDraft) -> HttpResponse:
    if draft.fault and draft.batch is not None:
        return _resume(request, draft, draft.batch)
    try:
        batch = import_runs.start(draft, by=request.user, now=timezone.now())
    except HoldfastError as fault:
        messages.warning(request, str(fault))
        return redirect("import-check", token=draft.token)
    work_on(draft)
    return redirect("import-batch", batch_id=batch.pk)


def _resume(request: HttpRequest, draft: ImportDraft, batch: ImportBatch) -> HttpResponse:
    try:
        import_runs.resume(draft)
    except HoldfastError as fault:
        messages.warning(request, str(fault))
    else:
        work_on(draft)
    return redirect("import-batch", batch_id=batch.pk)


def _left_out(draft: ImportDraft) -> tuple[str, ...]:
    return import_drafts.translation_of(draft).left_out if draft.mapping else ()


def _marked(lines: Iterator[str]) -> Iterator[str]:
    yield "\ufeff"
    yield from lines
