from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.forms import patients as forms
from registry.models.identities import AlternativeContact
from registry.models.patients import Patient
from registry.selectors.visible import require, visible
from registry.services import alternatives as service
from registry.views.conflicts import try_to_save
from registry.views.patients import act_page, patient_for

FIELDS = ("name", "relation", "phone")


@require_http_methods(["GET", "POST"])
def contact_add(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "correct")
    row = AlternativeContact(patient=patient)
    return _page(request, patient, row, "Somebody else through whom to reach the patient")


@require_http_methods(["GET", "POST"])
def contact_correct(request: HttpRequest, contact_id: int) -> HttpResponse:
    row = _contact(request, contact_id)
    return _page(request, row.patient, row, f"Correct: {row}")


@require_http_methods(["GET", "POST"])
def contact_remove(request: HttpRequest, contact_id: int) -> HttpResponse:
    row = _contact(request, contact_id)
    form = forms.NoLongerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        key = row.patient.key
        service.remove_alternative(contact=row, reason=form.cleaned_data["reason"], by=request.user)
        messages.success(request, "The contact was taken away; the trail keeps it.")
        return redirect("patient-identity", key=key)
    return act_page(request, row.patient, form, f"Take away: {row}", "Take it away")


def _contact(request: HttpRequest, contact_id: int) -> AlternativeContact:
    require(request.user, "correct")
    rows = visible(request.user, AlternativeContact, "correct").select_related("patient__identity")
    row: AlternativeContact = get_object_or_404(rows, pk=contact_id)
    return row


def _page(
    request: HttpRequest, patient: Patient, row: AlternativeContact, heading: str
) -> HttpResponse:
    form = forms.AlternativeForm(request.POST or None, initial=_now(row))
    conflict = None
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            service.save_alternative(
                contact=row,
                values={name: form.cleaned_data[name] for name in FIELDS},
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=timezone.localdate(),
            )
            return f"Saved: {row}. Tries at reaching the patient are counted anew."

        done, conflict = try_to_save(
            request, form, save, lambda: _now(AlternativeContact.objects.get(pk=row.pk))
        )
        if done:
            return redirect("patient-identity", key=patient.key)
    hint = "Only with the patient's leave. A new contact brings the patient back to the call list."
    return act_page(request, patient, form, heading, "Save", conflict=conflict, hint=hint)


def _now(row: AlternativeContact) -> dict[str, Any]:
    return {**{name: getattr(row, name) for name in FIELDS}, "version": row.version}
