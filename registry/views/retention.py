from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from registry.forms.retention import RuleForm
from registry.models.sites import Site
from registry.rules import retention as rules
from registry.selectors import retention as selector
from registry.selectors.visible import require, visible
from registry.services import retention as service
from registry.views.setup import form_page

PER_PAGE = 50


@require_GET
def rules_page(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = selector.destructions(request.user)
    context = {
        "lines": selector.lines(request.user),
        "doors": selector.doors(request.user),
        "whole": [(rules.ALSO[name], days) for name, days in selector.whole_service().items()],
        "page": Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
        "query": "",
    }
    return render(request, "registry/setup_retention.html", context)


@require_http_methods(["GET", "POST"])
def rule(request: HttpRequest, site_id: int, kind: str) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    if kind not in rules.KINDS:
        raise Http404
    of = rules.KINDS[kind]

    def now() -> dict[str, Any]:
        found, made = selector.current(site, kind)
        said = {"keep": found.keep, "least": found.least, "basis": found.basis} if found else {}
        return {"keep": of.default, **said, "version": made}

    form = RuleForm(request.POST or None, initial=now(), kind=of)

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        made = service.set_rule(
            site=site,
            kind=kind,
            expected_version=cleaned.pop("version"),
            by=request.user,
            now=timezone.now(),
            **cleaned,
        )
        return f"In force: {made}."

    heading = f"How long does {site} keep: {of.name.lower()}?"
    return form_page(request, form, heading, save, now, "setup-retention")
