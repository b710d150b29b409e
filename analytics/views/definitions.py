from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.forms.definitions import DefinitionForm
from analytics.selectors import definitions as selector
from analytics.selectors.visible import visible
from analytics.services.definitions import choose_definition
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.setup import form_page


@require_GET
def definitions(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    return render(
        request,
        "analytics/setup_definitions.html",
        {"choices": selector.choices(request.user), "single": selector.without_choice()},
    )


@require_http_methods(["GET", "POST"])
def definition(request: HttpRequest, site_id: int, endpoint: str) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    if not selector.leaves_a_choice(endpoint):
        raise Http404
    form = DefinitionForm(request.POST or None, initial=_now(site, endpoint), endpoint=endpoint)

    def save() -> str:
        chosen = choose_definition(
            site=site,
            definition_id=form.cleaned_data["definition"],
            on=timezone.localdate(),
            by=request.user,
            expected_version=form.cleaned_data["version"],
        )
        name = DEFINITIONS[chosen.definition_id].label
        return f"{site} since {chosen.chosen_on:%d %b %Y}: {name}."

    def saved_now() -> dict[str, Any]:
        return _now(site, endpoint)

    heading = f"{selector.words(endpoint)} at {site}"
    return form_page(request, form, heading, save, saved_now, "setup-definitions")


def _now(site: Site, endpoint: str) -> dict[str, Any]:
    choice = selector.site_choice(site, endpoint)
    chosen = choice.current.definition_id if choice.current else ""
    return {"definition": chosen, "version": choice.version}
