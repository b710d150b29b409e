from tempfile import TemporaryFile

from django.http import FileResponse, HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.errors import BadInput
from registry.forms.patients import AccessForm
from registry.services import access_reports
from registry.views.patients import act_page, patient_for
from registry.views.step_up import confirmed

HINT = (
    "One file with everything that the service holds on this person: pages to read (PDF), the same as JSON, "
    "and the pictures of films. It tells who saw and changed it, what was sent, and which copies may have "
    "held it; people of the service by their roles. Free text may speak of others: read it before you "
    "hand it out. That it was made, by whom and why, stands in the trail."
)


@require_http_methods(["GET", "POST"])
@confirmed
def access_report(request: HttpRequest, key: str) -> HttpResponseBase:
    patient = patient_for(request, key, "answer_access")
    form = AccessForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        # Handed to the answer, which closes it when the last byte is sent.
        target = TemporaryFile()  # noqa: SIM115
        try:
            access_reports.refuse_part(patient=patient, by=request.user)
            access_reports.make(
                patient=patient,
                reason=form.cleaned_data["reason"],
                by=request.user,
                now=timezone.now(),
                target=target,
            )
        except BadInput as fault:
            target.close()
            form.refuse(fault)
        else:
            target.seek(0)
            name = f"held-on-{patient.key}.zip"
            return FileResponse(target, as_attachment=True, filename=name)
    return act_page(request, patient, form, "What is held on them?", "Make the report", hint=HINT)
