from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.operation_moves import NewInjuryMoveForm, OperationMoveForm
from followup.selectors.moves import gone_out_about
from followup.selectors.operation_moves import choosable, offered, stays_behind
from followup.views.moves import MOST_FOUND, done
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure
from registry.selectors.moves import hanging_on
from registry.selectors.operation_moves import chain_of, injuries_to_move_to
from registry.selectors.patients import search
from registry.selectors.visible import require, visible
from registry.services import operation_moves as service
from registry.services.enrolment import REVISING
from registry.views.patients import log_read, patient_for
from registry.views.sought import words_of
from registry.views.step_up import confirmed


@require_GET
def choose(request: HttpRequest, procedure_id: int) -> HttpResponse:
    procedure = _procedure(request, procedure_id)
    key, text = request.GET.get("of", ""), words_of(request)
    whose = procedure.injury.patient
    of = patient_for(request, key, "correct") if key else whose
    for patient in {whose.pk: whose, of.pk: of}.values():
        log_read(request, patient)
    context = {
        **_about(procedure),
        "of": of,
        "injuries": injuries_to_move_to(request.user, procedure, of),
        "text": text,
        "found": search(request.user, text).exclude(pk=whose.pk)[:MOST_FOUND] if text else [],
    }
    return render(request, "followup/operation_move.html", context)


@require_http_methods(["GET", "POST"])
@confirmed
def to_injury(request: HttpRequest, procedure_id: int, injury_id: int) -> HttpResponse:
    procedure = _procedure(request, procedure_id)
    to = _injury(request, injury_id)
    revisable = None
    if procedure.revises_id is not None:
        revisable = list(Procedure.objects.filter(injury=to))
    form = OperationMoveForm(
        request.POST or None,
        asks_side=to.side != procedure.injury.side,
        initial={**_initial(procedure), "to_version": to.version},
        **_choices(procedure, revisable),
    )

    def save() -> str:
        service.move_operation(
            procedure=procedure,
            to=to,
            along=form.along(other_side=to.side != procedure.injury.side),
            revises=form.revised(),
            to_version=form.cleaned_data["to_version"] or 0,
            **_given(request, form),
        )
        return f"Moved: {procedure} is of {to} now. It can be undone under What was moved?"

    return _page(request, procedure, form, save, of=to.patient, to=to)


@require_http_methods(["GET", "POST"])
@confirmed
def to_new_injury(request: HttpRequest, procedure_id: int, key: str) -> HttpResponse:
    procedure = _procedure(request, procedure_id)
    of = patient_for(request, key, "correct")
    form = NewInjuryMoveForm(
        request.POST or None,
        asks_side=True,
        initial={**_initial(procedure), "kind": procedure.injury.kind},
        **_choices(procedure, None),
    )

    def save() -> str:
        values = form.values()
        service.move_to_new_injury(
            procedure=procedure,
            patient=of,
            values=values,
            along=form.along(other_side=values["side"] != procedure.injury.side),
            **_given(request, form),
        )
        return f"Moved: {procedure} has an injury of its own now. It can be undone under What was moved?"

    return _page(request, procedure, form, save, of=of, to=None)


def _page(
    request: HttpRequest,
    procedure: Procedure,
    form: OperationMoveForm,
    save: Callable[[], str],
    *,
    of: Patient,
    to: Injury | None,
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        if done(request, form, save):
            return redirect("patient", key=of.key)
        # Whoever tries again has been shown what is there by now.
        form.data = form.data.copy()
        form.data["offered"] = offered(procedure.injury)
        form.data["version"] = Procedure.objects.get(pk=procedure.pk).version
        if to is not None:
            form.data["to_version"] = Injury.objects.get(pk=to.pk).version
    for patient in {one.pk: one for one in (procedure.injury.patient, of)}.values():
        log_read(request, patient)
    chain = chain_of(procedure)
    context = {
        **_about(procedure),
        "chain": chain,
        "hanging": hanging_on(*chain),
        "stays": stays_behind(procedure.injury, chain),
        "gone": gone_out_about([one.pk for one in chain]),
        "of": of,
        "to": to,
        "form": form,
        "hindered": procedure.revises_id and procedure.kind in REVISING and not form.revisable,
    }
    return render(request, "followup/operation_move_check.html", context)


def _about(procedure: Procedure) -> dict[str, Any]:
    injury = procedure.injury
    return {"procedure": procedure, "injury": injury, "patient": injury.patient}


def _initial(procedure: Procedure) -> dict[str, Any]:
    found = choosable(procedure.injury, chain_of(procedure))
    return {
        "version": procedure.version,
        "offered": offered(procedure.injury),
        "rows": [one.code for one in found if one.goes],
    }


def _choices(procedure: Procedure, revisable: list[Procedure] | None) -> dict[str, Any]:
    return {"found": choosable(procedure.injury, chain_of(procedure)), "revisable": revisable}


def _given(request: HttpRequest, form: OperationMoveForm) -> dict[str, Any]:
    return {
        "side_confirmed": form.cleaned_data.get("side_confirmed", False),
        "reason": form.cleaned_data["reason"],
        "expected_version": form.cleaned_data["version"],
        "by": request.user,
        "now": timezone.now(),
        "today": timezone.localdate(),
    }


def _procedure(request: HttpRequest, procedure_id: int) -> Procedure:
    require(request.user, "correct")
    rows = visible(request.user, Procedure, "correct").select_related(
        "injury__patient__identity", "injury__site", "revises", "site"
    )
    theirs = visible(request.user, Patient, "correct").filter(identity__isnull=False)
    procedure: Procedure = get_object_or_404(
        rows.filter(injury__patient__in=theirs), pk=procedure_id
    )
    return procedure


def _injury(request: HttpRequest, injury_id: int) -> Injury:
    rows = visible(request.user, Injury, "correct").select_related("patient__identity", "site")
    theirs = visible(request.user, Patient, "correct").filter(identity__isnull=False)
    injury: Injury = get_object_or_404(rows.filter(patient__in=theirs), pk=injury_id)
    return injury
