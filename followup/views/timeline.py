from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from followup.models import Review, Unreachable
from followup.selectors import answers, patient_history
from followup.selectors import timeline as selector
from followup.selectors.visible import visible
from registry.models import Consent, Patient, Procedure
from registry.models.identities import AlternativeContact, Identifier
from registry.selectors import history as trail
from registry.selectors.visible import in_emergency, may, require, site_ids
from registry.services import audit
from registry.views.patients import log_read, patient_for

PER_PAGE = 50


@require_GET
def patient(request: HttpRequest, key: str) -> HttpResponse:
    require(request.user, "see_patient")
    rows = visible(request.user, Patient, "see_patient").select_related("identity")
    # An erased patient has no page: nothing is left that says who it was.
    whom = get_object_or_404(rows, key=key, identity__isnull=False)
    audit.record_read(by=request.user, patient=whom, now=timezone.now(), page="patient")
    opened = [one for one in in_emergency(request.user, "see_patient") if one.patient_id == whom.pk]
    own = not opened or visible(request.user, Patient, "correct").filter(pk=whom.pk).exists()
    return render(
        request,
        "followup/patient.html",
        {
            "patient": whom,
            "emergency": next(iter(opened), None),
            "reads_only": not own,
            "identity": whom.identity,
            "identifiers": visible(request.user, Identifier, "see_patient").filter(patient=whom),
            "others": visible(request.user, AlternativeContact).filter(patient=whom),
            "verdicts": visible(request.user, Unreachable).filter(patient=whom),
            "consents": visible(request.user, Consent).filter(patient=whom),
            "invitations": answers.invitation_lines(
                request.user, whom, timezone.now(), timezone.localdate()
            ),
            "may_invite": own and may(request.user, "invite"),
            "courses": selector.courses(request.user, whom, timezone.localdate()),
            "may_enrol": own and may(request.user, "enrol"),
            "may_correct": own and may(request.user, "correct"),
            "may_answer": own and may(request.user, "answer_access"),
            "may_keep": own
            and visible(request.user, Patient, "settle_retention").filter(pk=whom.pk).exists(),
            "sees_cases_at": site_ids(request.user, "see_cases"),
        },
    )


@require_GET
def history(request: HttpRequest, key: str) -> HttpResponse:
    patient = patient_for(request, key, "see_patient")
    # Logged first, so that the page that is counted is the page that is shown.
    log_read(request, patient)
    entries = patient_history.entries_of(request.user, patient)
    page = Paginator(entries, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "patient": patient,
        "page": page,
        "changes": trail.in_words(page.object_list),
        "query": "",
    }
    return render(request, "followup/history.html", context)


@require_GET
def enrol_plan(request: HttpRequest, procedure_id: int) -> HttpResponse:
    require(request.user, "enrol")
    rows = visible(request.user, Procedure, "enrol").select_related(
        "injury__patient__identity", "construct__construct_type"
    )
    procedure = get_object_or_404(rows, pk=procedure_id)
    reviews = (
        visible(request.user, Review, "enrol")
        .filter(procedure=procedure)
        .select_related("step__version__protocol")
    )
    return render(
        request,
        "followup/enrol_plan.html",
        {"procedure": procedure, "reviews": list(reviews), "patient": procedure.injury.patient},
    )
