from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_http_methods

from registry.errors import BadInput, HoldfastError
from registry.forms import implants as forms
from registry.models.implants import ImplantModel
from registry.selectors import implant_models as found
from registry.selectors.visible import require, visible
from registry.services import implant_models as service
from registry.views.setup import form_page

PER_PAGE = 50
MOST_KNOWN = 20


@require_GET
def implants(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    asked = {"q": request.GET.get("q", "").strip(), "show": request.GET.get("show", "")}
    rows = found.found_by(asked["q"], drafts_only=asked["show"] == "drafts")
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    page.object_list = found.with_uses(request.user, page.object_list)
    kept = {name: value for name, value in asked.items() if value}
    context = {
        "page": page,
        "asked": asked,
        "drafts": found.count_of_drafts(),
        "query": f"{urlencode(kept)}&" if kept else "",
    }
    return render(request, "registry/setup_implants.html", context)


@require_http_methods(["GET", "POST"])
def implant_add(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    form = forms.ImplantModelForm(request.POST or None)

    def save() -> str:
        row = service.save_implant_model(
            row=ImplantModel(),
            values={name: form.cleaned_data[name] for name in forms.IMPLANT_MODEL},
            expected_version=1,
            by=request.user,
            now=timezone.now(),
        )
        return f"Added: {row}."

    return form_page(request, form, "Add an implant", save, dict, "setup-implants")


@require_http_methods(["GET", "POST"])
def implant(request: HttpRequest, model_id: int) -> HttpResponse:
    require(request.user, "set_up")
    row = get_object_or_404(visible(request.user, ImplantModel, "set_up"), pk=model_id)
    form = forms.ImplantModelForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.save_implant_model(
            row=row,
            values={name: form.cleaned_data[name] for name in forms.IMPLANT_MODEL},
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
        return f"Saved: {row}."

    def saved_now() -> dict[str, Any]:
        return _now(ImplantModel.objects.get(pk=row.pk))

    heading = (
        f"What is this article: {row.device_identifier}?" if row.is_draft else f"Implant: {row}"
    )
    return form_page(request, form, heading, save, saved_now, "setup-implants")


@require_http_methods(["GET", "POST"])
def implant_join(request: HttpRequest, model_id: int) -> HttpResponse:
    """Say that a draft is a listed article with another identifier."""
    require(request.user, "set_up")
    listed = visible(request.user, ImplantModel, "set_up")
    draft = get_object_or_404(listed, pk=model_id)
    form = forms.JoinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        known = get_object_or_404(listed, pk=form.cleaned_data["known"])
        try:
            saved = service.join_model(
                draft=draft,
                known=known,
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        except HoldfastError as fault:
            form.add_error(None, str(fault))
        else:
            messages.success(request, f"{draft.device_identifier} is {saved} from now on.")
            return redirect("setup-implants")
    text = request.GET.get("q", "").strip()
    rows = found.found_by(text).filter(is_draft=False, same_as__isnull=True) if text else ()
    context = {"draft": draft, "form": form, "text": text, "known": rows[:MOST_KNOWN]}
    return render(request, "registry/setup_implant_join.html", context)


def _now(row: ImplantModel) -> dict[str, Any]:
    values = {name: getattr(row, name) for name in forms.IMPLANT_MODEL}
    described = "" if row.description == found.NOT_DESCRIBED else row.description
    return {**values, "description": described, "version": row.version}
