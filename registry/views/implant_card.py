from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from registry.selectors.carried import carried_by
from registry.views.patients import log_read, patient_for


@require_GET
def implant_card(request: HttpRequest, key: str) -> HttpResponse:
    """Show what a patient carries, to be printed and handed to them."""
    patient = patient_for(request, key, "see_identity")
    log_read(request, patient)
    context = {
        "patient": patient,
        "carried": carried_by(request.user, patient),
        "today": timezone.localdate(),
    }
    return render(request, "registry/implant_card.html", context)
