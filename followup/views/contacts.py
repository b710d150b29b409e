from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.contacts import POLICY, PolicyForm
from followup.models import ContactPolicy
from followup.selectors.visible import visible
from followup.services import reaching as service
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.setup import form_page


@require_GET
def policies(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Site, "set_up").select_related("contact_policy")
    lines = [(site, getattr(site, "contact_policy", None) or ContactPolicy()) for site in rows]
    return render(request, "followup/setup_contact.html", {"lines": lines})


@require_http_methods(["GET", "POST"])
def policy(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    row = ContactPolicy.objects.filter(site=site).first() or ContactPolicy(site=site)
    form = PolicyForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.save_policy(
            policy=row,
            values={name: form.cleaned_data[name] for name in POLICY},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved for {site}. It decides from the next try, and for everybody in the night."

    def saved_now() -> dict[str, Any]:
        return _now(ContactPolicy.objects.get(pk=row.pk))

    return form_page(request, form, f"Contact at {site}", save, saved_now, "setup-contact")


def _now(row: ContactPolicy) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*POLICY, "version")}
