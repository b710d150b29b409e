from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from followup.selectors.moves import gone_out
from registry.errors import HoldfastError
from registry.forms.moves import MoveForm, SideForm
from registry.models.injuries import Injury, Side
from registry.models.moves import RecordMove
from registry.models.patients import Patient
from registry.selectors.moves import hanging_on, lines_of, moves_here
from registry.selectors.patients import search
from registry.selectors.visible import require, visible
from registry.services import audit
from registry.services import moves as service
from registry.views.conflicts import try_to_save
from registry.views.patients import log_read, patient_for
from registry.views.sought import words_of
from registry.views.step_up import confirmed

PER_PAGE, MOST_FOUND = 50, 20


@require_http_methods(["GET", "POST"])
@confirmed
def to_patient(request: HttpRequest, injury_id: int) -> HttpResponse:
    injury = _injury(request, injury_id)
    key, text = request.GET.get("to", ""), words_of(request)
    to = patient_for(request, key, "correct") if key else None
    form = MoveForm(
        request.POST or None,
        initial={"version": injury.version, "to_version": to.version if to else 0},
    )
    if request.method == "POST" and to is not None and form.is_valid():

        def save() -> str:
            service.move_to_patient(
                injury=injury,
                to=to,
                reason=form.cleaned_data["reason"],
                expected_version=form.cleaned_data["version"],
                to_version=form.cleaned_data["to_version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Moved: {injury} is {to.identity}'s now. It can be undone under What was moved?"

        if done(request, form, save):
            return redirect("patient", key=to.key)
    found = search(request.user, text).exclude(pk=injury.patient_id)[:MOST_FOUND] if text else []
    return _page(request, "followup/move.html", injury, form, to=to, text=text, found=found)


@require_http_methods(["GET", "POST"])
@confirmed
def to_side(request: HttpRequest, injury_id: int) -> HttpResponse:
    injury = _injury(request, injury_id)
    form = SideForm(request.POST or None, initial={"version": injury.version, "exams": "turn"})
    other = Side(service.OTHER[Side(injury.side)]).label
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            service.change_side(
                injury=injury,
                with_motion=form.with_motion(),
                reason=form.cleaned_data["reason"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Changed: it is the {other.lower()} shoulder now."

        if done(request, form, save):
            return redirect("patient", key=injury.patient.key)
    return _page(request, "followup/move_side.html", injury, form, other=other)


@require_GET
def moves(request: HttpRequest) -> HttpResponse:
    require(request.user, "correct")
    page = Paginator(moves_here(request.user), PER_PAGE).get_page(request.GET.get("page"))
    lines = lines_of(request.user, list(page))
    named = sorted({key for line in lines for key in line.named})
    if named:
        audit.record_list(by=request.user, keys=named, now=timezone.now(), page="moves")
    return render(request, "followup/moves.html", {"page": page, "lines": lines, "query": ""})


@require_POST
@confirmed
def undo(request: HttpRequest, move_id: int) -> HttpResponse:
    require(request.user, "correct")
    one: RecordMove = get_object_or_404(moves_here(request.user), pk=move_id)
    try:
        service.undo(move=one, by=request.user, now=timezone.now(), today=timezone.localdate())
    except HoldfastError as fault:
        messages.error(request, f"Nothing was changed. {fault}")
    else:
        messages.success(request, f"Undone: {one.what} is as it was.")
    return redirect("moves")


def _injury(request: HttpRequest, injury_id: int) -> Injury:
    require(request.user, "correct")
    rows = visible(request.user, Injury, "correct").select_related("patient__identity", "site")
    theirs = visible(request.user, Patient, "correct").filter(identity__isnull=False)
    injury: Injury = get_object_or_404(rows.filter(patient__in=theirs), pk=injury_id)
    return injury


def done(request: HttpRequest, form: Any, save: Any) -> bool:
    """Save; where somebody was quicker the form starts from what is there now."""
    done, conflict = try_to_save(request, form, save, dict)
    if conflict is not None:
        form.add_error(None, conflict["message"])
    return done


def _page(
    request: HttpRequest, template: str, injury: Injury, form: Any, **more: Any
) -> HttpResponse:
    log_read(request, injury.patient)
    context = {
        "injury": injury,
        "patient": injury.patient,
        "form": form,
        "hanging": hanging_on(injury),
        "gone": gone_out(injury),
        **more,
    }
    return render(request, template, context)
