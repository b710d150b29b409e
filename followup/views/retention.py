from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.retention import ERASE, KEEP, DecisionForm
from followup.selectors import retention as selector
from followup.selectors.retention import ACTION
from followup.services import retention as service
from registry.errors import BadInput, NotAllowed
from registry.models.patients import Patient
from registry.selectors.visible import require, visible
from registry.services import audit
from registry.views.step_up import confirmed


@require_GET
@confirmed
def retention(request: HttpRequest) -> HttpResponse:
    require(request.user, ACTION)
    today = timezone.localdate()
    sites = selector.sites_past(request.user, today)
    asked = request.GET.get("site", "")
    chosen = next((one for one in sites if str(one.site.pk) == asked), sites[0] if sites else None)
    held = request.GET.get("show") == "held"
    rows: Any = selector.holds(request.user, today)
    if not held:
        rows = Patient.objects.none().order_by("pk")
        if chosen is not None:
            rows = selector.past_their_time(request.user, chosen, today)
    page = selector.page_of(rows, request.GET.get("page"))
    query = "show=held&" if held else f"site={chosen.site.pk}&" if chosen else ""
    context = {"sites": sites, "chosen": chosen, "held": held, "page": page, "query": query}
    return render(request, "followup/retention.html", context)


@require_http_methods(["GET", "POST"])
@confirmed
def decide(request: HttpRequest, key: str) -> HttpResponse:
    require(request.user, ACTION)
    patient = get_object_or_404(visible(request.user, Patient, ACTION), key=key)
    today = timezone.localdate()
    form = DecisionForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            said = _done(request, patient, form.cleaned_data)
        except BadInput as fault:
            form.refuse(fault)
        except NotAllowed as fault:
            form.add_error(None, str(fault))
        else:
            messages.success(request, said)
            return redirect("retention")
    if not hasattr(patient, "identity"):
        raise Http404
    audit.record_read(patient=patient, by=request.user, now=timezone.now(), page="retention")
    context = {"patient": patient, "form": form, "hold": selector.hold_on(patient, today)}
    return render(request, "followup/retention_decide.html", context)


def _done(request: HttpRequest, patient: Patient, said: dict[str, Any]) -> str:
    at = {"by": request.user, "now": timezone.now(), "today": timezone.localdate()}
    if said["decision"] == KEEP:
        service.keep(patient=patient, until=said["until"], reason=said["reason"], **at)
        until = f"until {said['until']}" if said["until"] else "until that is lifted"
        return f"{patient} is kept {until}."
    if said["decision"] != ERASE:
        service.lift(patient=patient, because=said["reason"], **at)
        return f"The rule holds for {patient} again."
    if said["typed"].strip().upper() != patient.key:
        raise BadInput({"typed": f"Type {patient.key} here to erase this patient for good."})
    done = service.erase(patient=patient, reason=said["reason"], **at)
    facts = "facts stay under the key" if done.keeps_facts else f"{done.rows_voided} rows voided"
    return " ".join([f"{patient} is erased: {facts}.", *done.told])
