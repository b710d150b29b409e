from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from registry.errors import BadInput
from registry.forms import patients as forms
from registry.forms.base import PlainForm
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.patients import Consent, Patient
from registry.models.sites import Site
from registry.selectors.patients import search
from registry.selectors.visible import may, require, visible
from registry.services import audit
from registry.services import patients as service
from registry.views.conflicts import try_to_save
from registry.views.sought import words_of

PER_PAGE = 50


@require_GET
def patients(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_identity")
    text = words_of(request)
    page = Paginator(search(request.user, text), PER_PAGE).get_page(request.GET.get("page"))
    log_list(request, page)
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "page": page,
        "text": text,
        "query": f"{query.urlencode()}&" if query else "",
        "may_enrol": may(request.user, "enrol"),
        "may_correct": may(request.user, "correct"),
    }
    return render(request, "registry/patients.html", context)


@require_http_methods(["GET", "POST"])
def identity(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "correct")
    row = get_object_or_404(Identity, patient=patient)
    form = forms.CorrectIdentityForm(request.POST or None, initial=_identity_now(row))
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            service.correct_identity(
                identity=row,
                values=form.identity(),
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Saved: {row}."

        done, conflict = try_to_save(
            request, form, save, lambda: _identity_now(Identity.objects.get(pk=row.pk))
        )
        if done:
            return redirect("patient", key=key)
    log_read(request, patient)
    context = {
        "patient": patient,
        "form": form,
        "conflict": conflict,
        "numbers": visible(request.user, Identifier, "correct").filter(patient=patient),
        "others": visible(request.user, AlternativeContact, "correct").filter(patient=patient),
        "number_form": forms.NumberForm(sites=visible(request.user, Site, "correct")),
    }
    status = 409 if conflict else 200
    return render(request, "registry/identity.html", context, status=status)


def _identity_now(row: Identity) -> dict[str, Any]:
    return {**forms.initial_identity(row), "version": row.version}


@require_http_methods(["GET", "POST"])
def number_add(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "correct")
    form = forms.NumberForm(request.POST or None, sites=visible(request.user, Site, "correct"))
    if request.method == "POST" and form.is_valid():
        given = service.IdentifierGiven(
            form.cleaned_data["issuing_system"], form.cleaned_data["value"]
        )
        try:
            service.add_identifier(
                patient=patient, site=form.cleaned_data["site"], given=given, by=request.user
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, "The number was added.")
            return redirect("patient-identity", key=key)
    return act_page(request, patient, form, "Add a number", "Add it")


@require_http_methods(["GET", "POST"])
def number_remove(request: HttpRequest, identifier_id: int) -> HttpResponse:
    require(request.user, "correct")
    numbers = visible(request.user, Identifier, "correct").select_related("patient")
    number = get_object_or_404(numbers, pk=identifier_id)
    form = forms.VoidForm(request.POST or None, initial={"version": 1})
    if request.method == "POST" and form.is_valid():
        service.remove_identifier(
            identifier=number,
            reason=form.cleaned_data["reason"],
            by=request.user,
            now=timezone.now(),
        )
        messages.success(request, "The number was taken away; the trail keeps it.")
        return redirect("patient-identity", key=number.patient.key)
    return act_page(request, number.patient, form, f"Take away: {number}", "Take it away")


@require_http_methods(["GET", "POST"])
def status(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "correct")
    form = forms.StatusForm(request.POST or None, initial=_status_now(patient))
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            service.change_status(
                patient=patient,
                status=form.cleaned_data["status"],
                on=form.cleaned_data["status_on"],
                note=form.cleaned_data["note"],
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Saved: {patient.get_status_display().lower()}."

        done, conflict = try_to_save(
            request, form, save, lambda: _status_now(Patient.objects.get(pk=patient.pk))
        )
        if done:
            return redirect("patient", key=key)
    heading = "Died, withdrew, moved away, or is back"
    hint = (
        "Ending follow-up closes the open reviews with that reason and stops every message at once. "
        "A patient who is back gets those reviews again whose window is still open."
    )
    return act_page(request, patient, form, heading, "Save", conflict=conflict, hint=hint)


def _status_now(patient: Patient) -> dict[str, Any]:
    return {
        "version": patient.version,
        "status": patient.status,
        "status_on": patient.status_on,
        "note": patient.status_note,
    }


@require_http_methods(["GET", "POST"])
def consent(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "correct")
    form = forms.ConsentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            service.add_consent(
                patient=patient,
                site=patient.site,
                given=form.given(),
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
                goes_on=form.cleaned_data["goes_on"],
            )
        except BadInput as fault:
            form.refuse(fault)
        else:
            messages.success(request, "The decision was recorded.")
            return redirect("patient", key=key)
    earlier = visible(request.user, Consent, "correct").filter(patient=patient)
    hint = (
        "The decision with the latest date counts; earlier ones stay on record. Whoever opts out of the "
        "registry from a day on stays in figures with what was recorded until that day, and with "
        "nothing later. Whoever opts out wholly is in no figure, chart or copy from now on, and is "
        "counted as one who withdrew, by number only. Either way nothing is sent to them any more. "
        "A snapshot or pack that was made before is a record and stays as it is; new ones leave "
        "them out. Recording 'Given' takes an opt-out back."
    )
    return act_page(
        request, patient, form, "Record a consent or opt-out", "Record it", hint=hint, rows=earlier
    )


def patient_for(request: HttpRequest, key: str, action: str) -> Patient:
    """Return a patient, not erased, whom the person may see for an action; 404 when not theirs."""
    require(request.user, action)
    rows = visible(request.user, Patient, action).select_related("identity", "site")
    patient: Patient = get_object_or_404(rows, key=key, identity__isnull=False)
    return patient


def act_page(
    request: HttpRequest,
    patient: Patient,
    form: PlainForm,
    heading: str,
    button: str,
    *,
    conflict: dict[str, Any] | None = None,
    **more: Any,
) -> HttpResponse:
    """Show one act on a patient with its form."""
    log_read(request, patient)
    context = {
        "patient": patient,
        "form": form,
        "heading": heading,
        "button": button,
        "conflict": conflict,
        **more,
    }
    return render(request, "registry/act.html", context, status=409 if conflict else 200)


def log_read(request: HttpRequest, patient: Patient) -> None:
    """Write down, under the page's own name, that an identified patient was opened."""
    if request.method != "GET":
        return
    audit.record_read(by=request.user, patient=patient, now=timezone.now(), page=_name_of(request))


def log_list(request: HttpRequest, patients: Iterable[Patient]) -> None:
    """Write down, under the page's own name, whom one page of a list named; nothing where it names nobody."""
    keys = sorted({patient.key for patient in patients})
    if keys:
        audit.record_list(by=request.user, keys=keys, now=timezone.now(), page=_name_of(request))


def _name_of(request: HttpRequest) -> str:
    return str(request.resolver_match.url_name) if request.resolver_match else ""
