from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from registry.api.description import groups
from registry.errors import BadInput
from registry.selectors.visible import require
from registry.services import tokens


@require_GET
def interface(request: HttpRequest) -> HttpResponse:
    require(request.user, "use_api")
    context = {
        "groups": groups(),
        "tokens": tokens.live_tokens(person=request.user, now=timezone.now()),
        "lifetimes": tokens.LIFETIMES,
    }
    return render(request, "registry/interface.html", context)


@require_POST
def token_make(request: HttpRequest) -> HttpResponse:
    """Show a new token, this once."""
    require(request.user, "use_api")
    days = request.POST.get("days", "")
    try:
        token = tokens.make_token(
            person=request.user, days=int(days) if days.isdigit() else 0, now=timezone.now()
        )
    except BadInput as fault:
        messages.error(request, str(fault).removeprefix("days: "))
        return redirect("interface")
    answer = render(request, "registry/token.html", {"token": token})
    answer["Cache-Control"] = "no-store"
    return answer


@require_POST
def token_revoke(request: HttpRequest, begins: str) -> HttpResponse:
    require(request.user, "use_api")
    if not tokens.revoke_token(person=request.user, begins=begins):
        raise Http404
    messages.success(request, f"The token {begins}... signs in no more.")
    return redirect("interface")
