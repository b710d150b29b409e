from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from registry.errors import BadInput, HoldfastError
from registry.forms.patients import MergeForm
from registry.models.merges import PatientMerge
from registry.models.patients import Patient
from registry.rules.typed_numbers import whole_number
from registry.selectors import duplicates as selector
from registry.selectors.visible import require
from registry.services import merges
from registry.views.patients import log_list, log_read, patient_for
from registry.views.step_up import confirmed

PER_PAGE = 25


@require_GET
def duplicates(request: HttpRequest) -> HttpResponse:
    require(request.user, "correct")
    found: Any = selector.PossiblePairs(request.user)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    pairs = selector.pairs_of(request.user, list(page.object_list))
    merged = list(selector.merges_here(request.user)[:PER_PAGE])
    shown = [row.patient for pair in pairs for row in (pair.one, pair.other)]
    log_list(request, shown + [one for row in merged for one in (row.kept, row.merged)])
    context = {
        "page": page,
        "pairs": pairs,
        "merges": merged,
        "query": "",
    }
    return render(request, "registry/duplicates.html", context)


@require_http_methods(["GET", "POST"])
@confirmed
def merge(request: HttpRequest) -> HttpResponse:
    pair = [patient_for(request, request.GET.get(name, ""), "correct") for name in ("one", "other")]
    form = MergeForm(
        request.POST or None,
        keys=[(patient.key, f"{patient.identity} ({patient.key})") for patient in pair],
    )
    if "two_people" in request.POST:
        merges.say_two_people(one=pair[0], other=pair[1], by=request.user, now=timezone.now())
        messages.success(request, "Noted: these are two people. They are not offered again.")
        return redirect("duplicates")
    if request.method == "POST" and form.is_valid():
        kept, merged = sorted(pair, key=lambda one: one.key != form.cleaned_data["kept"])
        if _merged(request, form, kept, merged):
            messages.success(request, f"Merged into {kept.identity}. It can be undone below.")
            return redirect("duplicates")
    for patient in pair:
        log_read(request, patient)
    context = {"form": form, "pair": [selector.beside(request.user, one) for one in pair]}
    return render(request, "registry/merge.html", context)


def _merged(request: HttpRequest, form: MergeForm, kept: Patient, merged: Patient) -> bool:
    try:
        merges.merge_patients(
            kept=kept,
            merged=merged,
            reason=form.cleaned_data["reason"],
            kept_version=_version(request, kept),
            merged_version=_version(request, merged),
            by=request.user,
            now=timezone.now(),
        )
    except BadInput as fault:
        form.refuse(fault)
        return False
    except HoldfastError as fault:
        form.add_error(None, str(fault))
        return False
    return True


def _version(request: HttpRequest, patient: Patient) -> int:
    sent: Any = request.POST.get(f"version-{patient.key}", "")
    return whole_number(sent) or 0


@require_POST
@confirmed
def undo(request: HttpRequest, merge_id: int) -> HttpResponse:
    require(request.user, "correct")
    rows = selector.merges_here(request.user)
    one: PatientMerge = get_object_or_404(rows, pk=merge_id)
    back = merges.unmerge_patients(merge=one, by=request.user, now=timezone.now())
    messages.success(request, f"Undone: {back.identity} is a patient of their own again.")
    return redirect("duplicates")
