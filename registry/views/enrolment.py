from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from registry.errors import BadInput
from registry.forms import constructs as construct_forms
from registry.forms import injuries as injury_forms
from registry.forms import procedures as procedure_forms
from registry.forms.patients import EnrolForm
from registry.forms.scanning import ScanForm
from registry.models.constructs import Construct, ConstructType, Part
from registry.models.identities import Identity
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules.construct_checks import CheckResult, Verdict
from registry.rules.part_counts import Piece
from registry.selectors import patients as found
from registry.selectors import procedures as operations
from registry.selectors.people import surgeons_at
from registry.selectors.visible import require, visible
from registry.services import construct_checks, enrolment
from registry.services.implants import PartGiven
from registry.views import scanning
from registry.views.patients import log_read

WITH_CONSTRUCT = (ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION)


@require_http_methods(["GET", "POST"])
def enrol(request: HttpRequest) -> HttpResponse:
    require(request.user, "enrol")
    form = EnrolForm(
        request.POST or None,
        sites=visible(request.user, Site, "enrol"),
        today=timezone.localdate(),
    )
    alike: list[found.Candidate] = []
    if request.method == "POST" and form.is_valid():
        numbers = [given.value for given in form.identifiers()]
        alike = found.candidates(request.user, form.as_person(), numbers)
        if _answered(request, alike):
            patient = _save_patient(request, form, alike)
            if patient is not None:
                messages.success(request, f"Saved: {patient.identity}. Now the injury.")
                return redirect("enrol-injury", key=patient.key)
    context = {
        "form": form,
        "alike": alike,
        "unfinished": found.unfinished(request.user),
        "who": fields_of(form, ("site", "family_name", "given_name", "birth_date", "sex")),
        "numbers": [field for field in form if field.name.startswith("number_")],
        "reach": fields_of(form, REACH),
        "consent": [field for field in form if field.name.startswith("consent_")],
    }
    return render(request, "registry/enrol.html", context)


REACH = (
    "phone",
    "email",
    "address",
    "language",
    "preferred_means",
    "refused_means",
    "other_contact_name",
    "other_contact_phone",
    "contact_checked_on",
)


def _answered(request: HttpRequest, alike: list[found.Candidate]) -> bool:
    """Whether everybody alike was shown before and said to be somebody else."""
    shown = set(request.POST.getlist("shown")) if "somebody_else" in request.POST else set()
    return {candidate.patient.key for candidate in alike} <= shown


def _save_patient(
    request: HttpRequest, form: EnrolForm, alike: list[found.Candidate]
) -> Patient | None:
    try:
        return enrolment.enrol_patient(
            site=form.cleaned_data["site"],
            identity=form.identity(),
            identifiers=form.identifiers(),
            consents=form.consents(),
            different_from=[candidate.patient for candidate in alike],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
    except BadInput as fault:
        form.refuse(fault)
        return None


@require_http_methods(["GET", "POST"])
def injury(request: HttpRequest, key: str) -> HttpResponse:
    require(request.user, "enrol")
    patients = visible(request.user, Patient, "enrol").select_related("identity", "site")
    patient = get_object_or_404(patients, key=key)
    sites = visible(request.user, Site, "enrol")
    form = injury_forms.NewInjuryForm(
        request.POST or None,
        identity=Identity.objects.filter(patient=patient).first(),
        sites=sites,
        initial={"site": patient.site if patient.site in sites else sites.first()},
    )
    if request.method == "POST" and form.is_valid():
        try:
            saved = enrolment.record_injury(
                patient=patient,
                site=form.cleaned_data["site"],
                values=form.values(),
                classes=form.classes(),
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, f"Saved: {saved}. Now the operation.")
            return redirect("enrol-procedure", injury_id=saved.pk)
    groups = [
        ("What happened", fields_of(form, (*injury_forms.WHAT, "site"))),
        ("Class", fields_of(form, injury_forms.CLASSES)),
        ("Both shoulders", fields_of(form, injury_forms.SHOULDERS)),
        ("At the time of the injury", fields_of(form, injury_forms.RISKS)),
    ]
    return _step(request, "injury", patient, form, groups)


@require_http_methods(["GET", "POST"])
def procedure(request: HttpRequest, injury_id: int) -> HttpResponse:
    require(request.user, "enrol")
    injuries = visible(request.user, Injury, "enrol").select_related("patient__identity", "site")
    hurt = get_object_or_404(injuries, pk=injury_id)
    earlier = operations.operations_of(hurt)
    form = procedure_forms.NewProcedureForm(
        request.POST or None,
        injury=hurt,
        surgeons=surgeons_at(hurt.site),
        kinds=operations.kinds_possible(earlier),
        earlier=earlier,
        initial={
            "kind": "" if earlier else ProcedureKind.FIXATION,
            "revises": earlier[-1].pk if len(earlier) == 1 else None,
        },
    )
    if request.method == "POST" and form.is_valid():
        try:
            saved = enrolment.record_procedure(
                injury=hurt,
                values=form.values(),
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            return _after_procedure(request, saved)
    groups = [
        ("Which operation", fields_of(form, procedure_forms.WHAT)),
        ("Who operated", fields_of(form, procedure_forms.WHO)),
        ("How", fields_of(form, procedure_forms.HOW)),
    ]
    return _step(request, "operation", hurt.patient, form, groups, injury=hurt, earlier=earlier)


def _after_procedure(request: HttpRequest, saved: Procedure) -> HttpResponse:
    if saved.kind in WITH_CONSTRUCT:
        messages.success(request, f"Saved: {saved}. Now what was implanted.")
        return redirect("enrol-construct", procedure_id=saved.pk)
    messages.success(request, f"Saved: {saved}.")
    return redirect("enrol-plan", procedure_id=saved.pk)


@require_http_methods(["GET", "POST"])
@scanning.with_decoder
def construct(request: HttpRequest, procedure_id: int) -> HttpResponse:
    operation = _operation(request, procedure_id)
    if Construct.everything.filter(procedure=operation).exists():
        return redirect("construct-correct", procedure_id=operation.pk)
    # A form sent empty is still one that was sent, and is checked.
    sent = request.POST if request.method == "POST" else None
    form = construct_forms.ConstructForm(sent, types=_types(request))
    parts = construct_forms.PartFormSet(sent, prefix="part")
    lines, told = scanning.lines_of(request, operation, bound=request.method == "POST")
    context: dict[str, Any] = {"procedure": operation, "parts": parts, "lines": lines, "told": told}
    if request.method == "POST":
        scanned = scanning.parts_of(lines)
        valid = all([form.is_valid(), parts.is_valid(), scanned is not None])
        context |= shown_checks(request, form, operation, _pieces(lines, parts))
        asked = valid and "reasons_asked" not in request.POST and _lacks_reason(context["checks"])
        context["asked"] = asked
        typed = [given for part in parts if (given := part.given()) is not None] if valid else []
        if valid and not asked and _save_construct(request, form, typed, lines, operation):
            messages.success(request, "Saved. The enrolment is complete.")
            return redirect("enrol-plan", procedure_id=operation.pk)
    context["scan_form"] = ScanForm()
    context["failed"] = scanning.failed(lines)
    groups = construct_groups(form)
    return _step(request, "construct", operation.injury.patient, form, groups, **context)


@require_POST
def checks(request: HttpRequest, procedure_id: int) -> HttpResponse:
    """Answer with the construct checks of what has been typed so far."""
    operation = _operation(request, procedure_id)
    form = construct_forms.ConstructForm(request.POST, types=_types(request))
    lines, _ = scanning.lines_of(request, operation)
    typed = construct_forms.PartFormSet(request.POST, prefix="part")
    recorded = Part.objects.filter(construct__procedure=operation).select_related("implant_model")
    pieces = construct_checks.pieces_of(recorded) + _pieces(lines, typed)
    return render(request, "registry/_checks.html", shown_checks(request, form, operation, pieces))


def _pieces(lines: list[scanning.ShownLine], typed: Any) -> list[Piece]:
    """Return what scanned and typed parts bring to the counts, as far as they can be read."""
    typed.is_valid()
    read = [part.cleaned_data for part in typed if hasattr(part, "cleaned_data")]
    return scanning.pieces_of(lines) + [
        Piece(one["kind"], one.get("quantity") or 1) for one in read if one.get("kind")
    ]


def construct_groups(form: construct_forms.ConstructForm) -> list[tuple[str, list[Any]]]:
    """Return a construct's fields as they are shown together."""
    return [
        ("Which construct", fields_of(form, ("construct_type",))),
        ("Plate and screws", fields_of(form, construct_forms.PLATE)),
        ("Anchors, sutures, graft", fields_of(form, construct_forms.SUSPENSION)),
    ]


def shown_checks(
    request: HttpRequest,
    form: construct_forms.ConstructForm,
    operation: Procedure,
    pieces: list[Piece],
) -> dict[str, Any]:
    """Return the checks that apply, with the reasons typed for a departure, and how counts differ."""
    values = form.so_far()
    results = construct_checks.results_for(values, operation, pieces)
    return {
        "checks": with_reasons(results, reasons_given(request)),
        "disagreements": construct_checks.disagreements_for(values, pieces),
    }


def with_reasons(
    results: Iterable[CheckResult], reasons: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Put each check that applies together with the reason for departing from it."""
    return [
        {"result": result, "reason": reasons.get(result.id, "")}
        for result in results
        if result.verdict != Verdict.DOES_NOT_APPLY
    ]


def reasons_given(request: HttpRequest) -> dict[str, str]:
    """Return the typed reasons for departures, by check."""
    return {
        name.removeprefix("reason-"): text.strip()[:300]
        for name, text in request.POST.items()
        if name.startswith("reason-")
    }


def _lacks_reason(checks: list[dict[str, Any]]) -> bool:
    def departs(result: CheckResult) -> bool:
        return result.verdict == Verdict.DEPARTURE

    return any(departs(check["result"]) and not check["reason"].strip() for check in checks)


def _save_construct(
    request: HttpRequest,
    form: Any,
    typed: list[PartGiven],
    lines: list[scanning.ShownLine],
    operation: Procedure,
) -> bool:
    scanned = scanning.parts_of(lines) or []
    try:
        enrolment.complete_procedure(
            procedure=operation,
            values=form.values(),
            departure_reasons=reasons_given(request),
            parts=[*scanned, *typed],
            by=request.user,
            now=timezone.now(),
            today=timezone.localdate(),
        )
    except BadInput as fault:
        form.refuse(fault)
        return False
    return True


def _operation(request: HttpRequest, procedure_id: int) -> Procedure:
    require(request.user, "enrol")
    rows = visible(request.user, Procedure, "enrol").select_related(
        "injury__patient__identity", "site"
    )
    operation: Procedure = get_object_or_404(rows, pk=procedure_id)
    return operation


def _types(request: HttpRequest) -> Any:
    return visible(request.user, ConstructType, "enrol").filter(is_active=True)


def fields_of(form: Any, names: tuple[str, ...]) -> list[Any]:
    """Return some fields of a form in an order, leaving out those it does not have."""
    return [form[name] for name in names if name in form.fields]


def _step(
    request: HttpRequest,
    step: str,
    patient: Patient,
    form: Any,
    groups: list[tuple[str, list[Any]]],
    **more: Any,
) -> HttpResponse:
    log_read(request, patient)
    context = {"step": step, "patient": patient, "form": form, "groups": groups, **more}
    return render(request, f"registry/enrol_{step}.html", context)
