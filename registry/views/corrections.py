"""Correcting what was recorded: an injury, its class, an operation, a construct; voiding a row."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.errors import BadInput, HoldfastError
from registry.forms import constructs as construct_forms
from registry.forms import injuries as injury_forms
from registry.forms import procedures as procedure_forms
from registry.forms.patients import VoidForm
from registry.models.base import ClinicalRow
from registry.models.constructs import Construct, ConstructType, Part
from registry.models.identities import Identity
from registry.models.injuries import Classification, Injury
from registry.models.patients import Consent, Patient
from registry.models.procedures import Procedure
from registry.rules.part_words import traced_by
from registry.selectors.people import surgeons_at
from registry.selectors.visible import require, visible
from registry.services import construct_checks, enrolment, implants, injuries, procedures, voiding
from registry.views.conflicts import try_to_save
from registry.views.enrolment import (
    construct_groups,
    fields_of,
    reasons_given,
    shown_checks,
    with_reasons,
)
from registry.views.patients import act_page, log_read

# What may be voided, and the way from it to its patient.
VOIDABLE: dict[str, tuple[type[ClinicalRow], str]] = {
    "patient": (Patient, ""),
    "injury": (Injury, "patient"),
    "classification": (Classification, "injury.patient"),
    "procedure": (Procedure, "injury.patient"),
    "part": (Part, "construct.procedure.injury.patient"),
    "consent": (Consent, "patient"),
}


@require_http_methods(["GET", "POST"])
def injury(request: HttpRequest, injury_id: int) -> HttpResponse:
    row = _row(request, Injury, injury_id, "patient__identity")
    form = injury_forms.CorrectInjuryForm(
        request.POST or None,
        identity=Identity.objects.filter(patient=row.patient).first(),
        initial=injury_forms.initial_injury(row),
    )
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            injuries.correct_injury(
                injury=row,
                values=form.values(),
                expected_version=form.cleaned_data["version"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Corrected: {row}."

        done, conflict = try_to_save(
            request,
            form,
            save,
            lambda: injury_forms.initial_injury(Injury.objects.get(pk=row.pk)),
        )
        if done:
            return redirect("patient", key=row.patient.key)
    groups = [
        ("What happened", fields_of(form, injury_forms.WHAT)),
        ("Both shoulders", fields_of(form, injury_forms.SHOULDERS)),
        ("At the time of the injury", fields_of(form, injury_forms.RISKS)),
    ]
    further = [(reverse("injury-classify", args=[row.pk]), "Give it another class")]
    heading = f"Correct: {row}"
    return _correct(request, row, row.patient, form, groups, heading, conflict, further=further)


@require_http_methods(["GET", "POST"])
def classify(request: HttpRequest, injury_id: int) -> HttpResponse:
    row = _row(request, Injury, injury_id, "patient__identity")
    form = injury_forms.ClassifyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            enrolment.classify(
                injury=row,
                system=form.cleaned_data["system"],
                code=form.cleaned_data["code"],
                opinion_of=request.user,
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, "The class was recorded.")
            return redirect("patient", key=row.patient.key)
    earlier = visible(request.user, Classification, "correct").filter(injury=row)
    hint = "A new opinion replaces the earlier one of the same system; the earlier stays on record."
    return act_page(
        request, row.patient, form, f"Class of: {row}", "Record it", hint=hint, rows=earlier
    )


@require_http_methods(["GET", "POST"])
def procedure(request: HttpRequest, procedure_id: int) -> HttpResponse:
    row = _row(request, Procedure, procedure_id, "injury__patient__identity", "site", "revises")
    patient = row.injury.patient
    form = procedure_forms.CorrectProcedureForm(
        request.POST or None,
        injury=row.injury,
        surgeons=surgeons_at(row.site),
        kind=row.kind,
        initial=procedure_forms.initial_procedure(row),
    )
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            procedures.correct_procedure(
                procedure=row,
                values=form.values(),
                expected_version=form.cleaned_data["version"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Corrected: {row}. Reviews that have not happened follow its date."

        done, conflict = try_to_save(
            request,
            form,
            save,
            lambda: procedure_forms.initial_procedure(Procedure.objects.get(pk=row.pk)),
        )
        if done:
            return redirect("patient", key=patient.key)
    groups = [
        ("When", fields_of(form, ("performed_on",))),
        ("Who operated", fields_of(form, procedure_forms.WHO)),
        ("How", fields_of(form, procedure_forms.HOW)),
    ]
    further = [(reverse("enrol-construct", args=[row.pk]), "Its construct and parts")]
    heading = f"Correct: {row}"
    return _correct(request, row, patient, form, groups, heading, conflict, further=further)


@require_http_methods(["GET", "POST"])
def construct(request: HttpRequest, procedure_id: int) -> HttpResponse:
    operation = _row(request, Procedure, procedure_id, "injury__patient__identity", "site")
    row = get_object_or_404(Construct.objects.select_related("procedure"), procedure=operation)
    patient = operation.injury.patient
    form = construct_forms.CorrectConstructForm(
        request.POST if request.method == "POST" else None,
        types=visible(request.user, ConstructType, "correct"),
        initial=construct_forms.initial_construct(row),
    )
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            procedures.correct_construct(
                construct=row,
                values=form.values(),
                departure_reasons=reasons_given(request),
                expected_version=form.cleaned_data["version"],
                reason=form.cleaned_data["reason"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return "The construct was corrected."

        done, conflict = try_to_save(
            request,
            form,
            save,
            lambda: construct_forms.initial_construct(Construct.objects.get(pk=row.pk)),
        )
        if done:
            return redirect("patient", key=patient.key)
    parts = list(Part.objects.filter(construct=row).select_related("implant_model"))
    pieces = construct_checks.pieces_of(parts)
    checks: dict[str, Any] = {
        "checks": with_reasons(
            construct_checks.results_of(row, operation, pieces),
            dict(row.departures.values_list("check_id", "reason")),
        ),
        "disagreements": construct_checks.disagreements_of(row, pieces),
    }
    if request.method == "POST":
        checks = shown_checks(request, form, operation, pieces)
    more = {
        "procedure": operation,
        **checks,
        "parts": [(part, _traced_by(part)) for part in parts],
        "with_checks": True,
        "further": [(reverse("procedure-correct", args=[operation.pk]), "The operation itself")],
    }
    heading = f"Correct the construct of: {operation}"
    return _correct(request, row, patient, form, construct_groups(form), heading, conflict, **more)


@require_http_methods(["GET", "POST"])
def part_add(request: HttpRequest, procedure_id: int) -> HttpResponse:
    operation = _row(request, Procedure, procedure_id, "injury__patient__identity")
    row = get_object_or_404(Construct, procedure=operation)
    form = construct_forms.PartForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.given()
        if given is None:
            form.add_error("kind", "Say what kind of part this is.")
        elif _add_part(request, form, row, given):
            return redirect("construct-correct", procedure_id=operation.pk)
    heading = f"Add a part to: {operation}"
    return act_page(request, operation.injury.patient, form, heading, "Add it")


def _add_part(
    request: HttpRequest,
    form: construct_forms.PartForm,
    construct: Construct,
    given: implants.PartGiven,
) -> bool:
    try:
        part = implants.add_part(
            construct=construct, given=given, by=request.user, now=timezone.now()
        )
    except BadInput as fault:
        form.refuse(fault)
        return False
    messages.success(request, "The part was added.")
    for warning in part.warnings:
        messages.warning(request, warning["words"])
    return True


@require_http_methods(["GET", "POST"])
def void(request: HttpRequest, kind: str, row_id: int) -> HttpResponse:
    if kind not in VOIDABLE:
        raise Http404
    model, way = VOIDABLE[kind]
    require(request.user, "correct")
    row: Any = get_object_or_404(visible(request.user, model, "correct"), pk=row_id)
    patient = _follow(row, way)
    form = VoidForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST" and form.is_valid():
        try:
            voiding.void_row(
                row=row,
                reason=form.cleaned_data["reason"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
            )
        except BadInput as fault:
            form.refuse(fault)
        except HoldfastError as fault:
            form.add_error(None, str(fault))
        else:
            messages.success(request, f"Voided: {row}. It stays in the trail with your reason.")
            return redirect("patients") if kind == "patient" else redirect("patient", patient.key)
    name = str(model._meta.verbose_name)
    return act_page(request, patient, form, f"Void this {name}: {row}", "Void it")


def _traced_by(part: Part) -> str:
    return traced_by(
        device_identifier=part.implant_model.device_identifier,
        catalogue_number=part.implant_model.catalogue_number,
        batch=part.batch,
        serial=part.serial,
        batch_not_obtainable=part.batch_not_obtainable,
    )


def _follow(row: Any, way: str) -> Patient:
    for name in way.split(".") if way else ():
        row = getattr(row, name)
    patient: Patient = row
    return patient


def _row(request: HttpRequest, model: type[Any], pk: int, *related: str) -> Any:
    require(request.user, "correct")
    rows = visible(request.user, model, "correct").select_related(*related)
    return get_object_or_404(rows, pk=pk)


def _correct(
    request: HttpRequest,
    row: ClinicalRow,
    patient: Patient,
    form: Any,
    groups: list[tuple[str, list[Any]]],
    heading: str,
    conflict: dict[str, Any] | None,
    **more: Any,
) -> HttpResponse:
    log_read(request, patient)
    kind = next((kind for kind, (model, _) in VOIDABLE.items() if type(row) is model), "")
    context = {
        "row": row,
        "patient": patient,
        "form": form,
        "groups": groups,
        "heading": heading,
        "conflict": conflict,
        "voidable": kind,
        **more,
    }
    return render(request, "registry/correct.html", context, status=409 if conflict else 200)
