from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.forms.monitoring import EndPolicyForm, PolicyForm
from analytics.selectors import monitoring
from analytics.selectors.visible import visible
from analytics.services import policies as service
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.setup import form_page


@require_GET
def policies(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    lines = monitoring.policies(request.user)
    return render(request, "analytics/setup_monitoring.html", {"lines": lines})


@require_http_methods(["GET", "POST"])
def policy(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    form = PolicyForm(request.POST or None, initial=_now(site))

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        row = service.switch_on(
            site=site,
            expected_version=cleaned.pop("version"),
            by=request.user,
            now=timezone.now(),
            **cleaned,
        )
        return f"In force: {row}."

    def saved_now() -> dict[str, Any]:
        return _now(site)

    heading = f"Policy of monitoring at {site}"
    return form_page(request, form, heading, save, saved_now, "setup-monitoring")


@require_http_methods(["GET", "POST"])
def policy_end(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    form = EndPolicyForm(request.POST or None, initial=_version(site))

    def save() -> str:
        service.switch_off(
            site=site,
            because=form.cleaned_data["because"],
            expected_version=form.cleaned_data["version"],
            by=request.user,
            now=timezone.now(),
        )
        return f"{site} watches neither surgeons nor running charts now."

    def saved_now() -> dict[str, Any]:
        return _version(site)

    heading = f"End the policy of monitoring at {site}"
    return form_page(request, form, heading, save, saved_now, "setup-monitoring")


def _version(site: Site) -> dict[str, Any]:
    return {"version": monitoring.site_policy(site).version}


def _now(site: Site) -> dict[str, Any]:
    found = monitoring.site_policy(site)
    current = found.current
    return {
        "version": found.version,
        "text": current.text if current else "",
        "surgeons": bool(current and current.surgeons),
        "charts": bool(current and current.charts),
    }
