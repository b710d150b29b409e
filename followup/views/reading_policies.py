from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.reading_policies import POLICY, ReadingPolicyForm
from followup.models.readings import ReadingPolicy
from followup.selectors.visible import visible
from followup.services import reading_policies as service
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.setup import form_page


@require_GET
def policies(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Site, "set_up").select_related("reading_policy")
    lines = [(site, getattr(site, "reading_policy", None) or ReadingPolicy()) for site in rows]
    return render(request, "followup/setup_readings.html", {"lines": lines})


@require_http_methods(["GET", "POST"])
def policy(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    row = ReadingPolicy.objects.filter(site=site).first() or ReadingPolicy(site=site)
    form = ReadingPolicyForm(request.POST or None, initial=_now(row))

    def save() -> str:
        service.save_policy(
            policy=row,
            values=form.policy(),
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return (
            f"Saved for {site}. It holds from the next reading; older films are drawn in the night."
        )

    def saved_now() -> dict[str, Any]:
        return _now(ReadingPolicy.objects.get(pk=row.pk))

    return form_page(request, form, f"Second readings at {site}", save, saved_now, "setup-readings")


def _now(row: ReadingPolicy) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*POLICY, "version")}
