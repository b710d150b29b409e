from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from registry.rules.addresses import client_address
from registry.rules.typed_numbers import whole_number
from registry.selectors.factors import factors_of
from registry.selectors.sessions import open_sessions
from registry.services import sessions
from registry.services.sign_ins import Where
from registry.views.step_up import confirmed

OTHERS = "others"


def where(request: HttpRequest) -> Where:
    """Return from where a request comes, as our own proxies saw it."""
    address = client_address(
        passed=request.headers.get("X-Forwarded-For", ""),
        remote=request.META.get("REMOTE_ADDR", ""),
        proxies=settings.PROXIES,
    )
    return Where(address, request.headers.get("User-Agent", ""))


@require_GET
def account(request: HttpRequest) -> HttpResponse:
    key = request.session.session_key or ""
    context = {
        "factors": factors_of(request.user),
        "sessions": open_sessions(request.user, now=timezone.now(), this=key),
        "idle_minutes": settings.IDLE_SECONDS // 60,
        "most_hours": settings.SESSION_COOKIE_AGE // 3600,
    }
    return render(request, "registry/account.html", context)


@require_POST
@confirmed
def session_end(request: HttpRequest) -> HttpResponse:
    """End one session of one's own, or all but this one."""
    which, now, came = request.POST.get("session", ""), timezone.now(), where(request)
    if which == OTHERS:
        key = request.session.session_key or ""
        ended = sessions.end_others(person=request.user, but=key, now=now, where=came)
    else:
        number = whole_number(which) or 0
        ended = sessions.end_one(person=request.user, session_id=number, now=now, where=came)
    if ended:
        messages.success(request, "Ended: whoever uses it is asked to sign in again.")
    else:
        messages.info(request, "There was nothing to end any more.")
    return redirect("account")
