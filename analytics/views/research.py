from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.forms.research import CloseForm, ExtractForm, ProjectForm
from analytics.models.research import ResearchProject
from analytics.selectors import research as selector
from analytics.selectors.research import ACTION
from analytics.selectors.visible import visible
from analytics.services import research as service
from registry.errors import BadInput
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.services.kept_secrets import SecretUnreadable
from registry.views.step_up import confirmed


@require_GET
@confirmed
def research(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    page = selector.page_of(selector.projects(request.user), request.GET.get("page"))
    return render(request, "analytics/research.html", {"page": page, "query": ""})


@require_http_methods(["GET", "POST"])
@confirmed
def add(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    form = ProjectForm(request.POST or None, sites=visible(request.user, Site, ACTION))
    if request.method == "POST" and form.is_valid():
        try:
            made = service.open_project(**form.cleaned_data, by=request.user, now=timezone.now())
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, f"{made} is open. Nothing has left yet.")
            return redirect("research-one", made.pk)
    status = 400 if form.errors else 200
    return render(request, "analytics/research_add.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@confirmed
def project(request: HttpRequest, project_id: int) -> HttpResponse:
    """Show a project and what it took; sent as a form, hand out an extract and write that down."""
    row = _found(request, project_id)
    form = ExtractForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            made = service.take_extract(
                project=row,
                in_spite=form.cleaned_data["in_spite"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except BadInput as fault:
            form.refuse(fault)
            if "in_spite" in fault.faults:
                form.ask()
        except SecretUnreadable as fault:
            form.add_error(None, str(fault))
        else:
            answer = HttpResponse(made.content, content_type="application/zip")
            answer["Content-Disposition"] = f'attachment; filename="{made.file_name}"'
            return answer
    return _shown(request, row, form)


@require_http_methods(["GET", "POST"])
@confirmed
def close(request: HttpRequest, project_id: int) -> HttpResponse:
    row = _found(request, project_id)
    form = CloseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            service.close_project(
                project=row,
                because=form.cleaned_data["because"],
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, f"{row} is closed and its key is gone.")
            return redirect("research-one", row.pk)
    context = {"form": form, "project": row}
    status = 400 if form.errors else 200
    return render(request, "analytics/research_close.html", context, status=status)


def _shown(request: HttpRequest, row: ResearchProject, form: Any) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "project": row,
        "form": form,
        "open": row.closed_at is None and row.starts_on <= today <= row.ends_on,
        "columns": selector.columns_of(row),
        "page": selector.page_of(selector.extracts_of(row), request.GET.get("page")),
        "query": "",
    }
    return render(request, "analytics/research_one.html", context)


def _found(request: HttpRequest, project_id: int) -> ResearchProject:
    require(request.user, ACTION)
    row: ResearchProject = get_object_or_404(selector.projects(request.user), pk=project_id)
    return row
