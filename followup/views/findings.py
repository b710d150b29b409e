from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.findings import FindingsForm, UnionRuleForm
from followup.models.films import Film
from followup.models.findings import UnionRule
from followup.selectors import findings as selector
from followup.selectors.visible import visible
from followup.services import findings as service
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.setup import form_page


def asked_on(film: Film, *, blind: bool) -> dict[str, Any]:
    """Return what a form needs to ask for the findings of a film."""
    return {
        "offer": selector.offered_on(film, blind=blind),
        "asks_bridging": selector.counts_cortices(film, blind=blind),
        "least": selector.union_rule_of(film.site).min_bridged_cortices,
    }


def beside_rule(form: FindingsForm) -> str:
    """Return what the site's rule says of a union that was kept as the reader stated it."""
    otherwise = form.otherwise()
    return f" Your union is kept; {otherwise}." if otherwise else ""


@require_GET
def union_rules(request: HttpRequest) -> HttpResponse:
    require(request.user, "set_up")
    rows = visible(request.user, Site, "set_up").select_related("union_rule")
    lines = [(site, selector.union_rule_of(site)) for site in rows]
    return render(request, "followup/setup_union.html", {"lines": lines})


@require_http_methods(["GET", "POST"])
def union_rule(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "set_up")
    site = get_object_or_404(visible(request.user, Site, "set_up"), pk=site_id)
    rule = selector.union_rule_of(site)
    form = UnionRuleForm(request.POST or None, initial=_now(rule))

    def save() -> str:
        service.save_union_rule(
            rule=rule,
            values={"min_bridged_cortices": form.cleaned_data["min_bridged_cortices"]},
            expected_version=form.cleaned_data["version"],
            by=request.user,
        )
        return f"Saved for {site}. No reading changes; what the rule says beside them does."

    def saved_now() -> dict[str, Any]:
        return _now(UnionRule.objects.get(pk=rule.pk))

    return form_page(request, form, f"Union at {site}", save, saved_now, "setup-union")


def _now(rule: UnionRule) -> dict[str, Any]:
    return {"min_bridged_cortices": rule.min_bridged_cortices, "version": rule.version}
