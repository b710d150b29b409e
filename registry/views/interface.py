from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from registry.api.description import groups
from registry.errors import BadInput
from registry.models.sign_ins import SignInEventKind
from registry.models.sites import Site
from registry.rules.typed_numbers import whole_number
from registry.selectors.visible import require, visible
from registry.services import sign_ins, tokens
from registry.views.account import where
from registry.views.step_up import confirmed


@require_GET
def interface(request: HttpRequest) -> HttpResponse:
    require(request.user, "use_api")
    context = {
        "groups": groups(),
        "tokens": tokens.live_tokens(person=request.user, now=timezone.now()),
        "lifetimes": tokens.LIFETIMES,
        "sites": visible(request.user, Site, "use_api"),
    }
    return render(request, "registry/interface.html", context)


@require_POST
@confirmed
def token_make(request: HttpRequest) -> HttpResponse:
    """Show a new token, this once."""
    require(request.user, "use_api")
    days, now = request.POST.get("days", ""), timezone.now()
    sites = request.POST.getlist("sites")
    # What cannot be read is no site of anybody's: it is refused, and never means all of them.
    chosen = frozenset(whole_number(one) or 0 for one in sites)
    scope = tokens.Scope(writes=request.POST.get("may") == "write", sites=chosen if sites else None)
    try:
        token = tokens.make_token(
            person=request.user, days=whole_number(days) or 0, now=now, scope=scope
        )
    except BadInput as fault:
        messages.error(request, str(fault).removeprefix("days: ").removeprefix("sites: "))
        return redirect("interface")
    sign_ins.write_down(
        SignInEventKind.TOKEN_MADE,
        person=request.user,
        now=now,
        where=where(request),
        detail=f"{token[: tokens.SHOWN]}..., {'reads and writes' if scope.writes else 'reads'}",
    )
    answer = render(request, "registry/token.html", {"token": token})
    answer["Cache-Control"] = "no-store"
    return answer


@require_POST
def token_revoke(request: HttpRequest, begins: str) -> HttpResponse:
    require(request.user, "use_api")
    if not tokens.revoke_token(person=request.user, begins=begins):
        raise Http404
    sign_ins.write_down(
        SignInEventKind.TOKEN_REVOKED,
        person=request.user,
        now=timezone.now(),
        where=where(request),
        detail=f"{begins}...",
    )
    messages.success(request, f"The token {begins}... signs in no more.")
    return redirect("interface")
