from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.imports import UploadForm
from followup.rules.case_columns.catalogue import template
from followup.selectors.imports import latest_batches
from followup.services import imports as service
from followup.services import uploads
from followup.services.imports import ImportResult
from followup.services.uploads import Upload
from registry.errors import BadInput
from registry.exchange import sheets
from registry.models.sites import Site
from registry.selectors.visible import require, visible

SHOWN = 200
# A page has to answer while somebody waits, and while it saves SQLite lets nobody else save;
# longer files go through the command.
MOST_ROWS = 300


@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    require(request.user, "import_cases")
    form = UploadForm(
        request.POST or None,
        request.FILES or None,
        sites=visible(request.user, Site, "import_cases"),
    )
    if request.method == "POST" and form.is_valid():
        upload = uploads.keep_upload(
            content=form.cleaned_data["file"],
            name=form.cleaned_data["file"].name,
            site=form.cleaned_data["site"],
            day_first=form.cleaned_data["day_first"],
        )
        try:
            _checked(upload)
        except BadInput as fault:
            uploads.forget_upload(upload)
            form.add_error("file", str(fault))
        else:
            return redirect("import-check", token=upload.token)
    context = {"form": form, "batches": latest_batches(request.user)}
    return render(request, "followup/import.html", context)


@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, token: str) -> HttpResponse:
    upload = _kept(request, token)
    if request.method == "POST":
        with upload.open() as source:
            result = service.import_cases(
                source=source,
                file_name=upload.file_name,
                site=upload.site,
                keep_good=request.POST.get("rows") == "good",
                day_first=upload.day_first,
                most_rows=MOST_ROWS,
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        return _after(request, upload, result)
    return render(request, "followup/import_check.html", _context(upload, _checked(upload)))


@require_GET
def rejected(request: HttpRequest, token: str) -> HttpResponse:
    upload = _kept(request, token)
    answer = _csv(f"{upload.file_name.rsplit('.', 1)[0]}-rejected.csv")
    service.write_rejected(answer, _checked(upload))
    return answer


@require_GET
def template_file(request: HttpRequest) -> HttpResponse:
    require(request.user, "import_cases")
    answer = _csv("cases.csv")
    sheets.write_rows(answer, *template())
    return answer


def _kept(request: HttpRequest, token: str) -> Upload:
    require(request.user, "import_cases")
    upload = uploads.kept_upload(token, visible(request.user, Site, "import_cases"))
    if upload is None:
        raise Http404
    return upload


def _checked(upload: Upload) -> ImportResult:
    with upload.open() as source:
        return service.check_cases(
            source=source,
            site=upload.site,
            today=timezone.localdate(),
            day_first=upload.day_first,
            most_rows=MOST_ROWS,
        )


def _after(request: HttpRequest, upload: Upload, result: ImportResult) -> HttpResponse:
    if result.refused:
        messages.warning(request, "Nothing was imported: see what is wrong below.")
        return redirect("import-check", token=upload.token)
    said = f"{result.added} case{'' if result.added == 1 else 's'} added at {upload.site}."
    messages.success(request, said)
    if result.rejected:
        return redirect("import-check", token=upload.token)
    uploads.forget_upload(upload)
    return redirect("import")


def _context(upload: Upload, result: ImportResult) -> dict[str, Any]:
    return {
        "upload": upload,
        "result": result,
        "faults": result.faults[:SHOWN],
        "more_faults": max(0, len(result.faults) - SHOWN),
        "known": result.known[:SHOWN],
        "more_known": max(0, len(result.known) - SHOWN),
        "rows_at_fault": len(result.rejected),
    }


def _csv(name: str) -> HttpResponse:
    # A spreadsheet program takes text for UTF-8 only when it begins with the mark.
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
