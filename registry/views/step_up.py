"""What reaches far asks once more who it is, unless that was just confirmed: one decorator for all of it."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from allauth.account import app_settings
from allauth.account.adapter import get_adapter
from allauth.account.authentication import get_authentication_records
from allauth.account.internal.flows.reauthentication import STATE_SESSION_KEY
from allauth.core.internal.httpkit import serialize_request
from django.contrib import messages
from django.contrib.auth import REDIRECT_FIELD_NAME
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import urlencode

View = Callable[..., HttpResponse]
# When a session began, by the clock of the service; its beginning is a whole sign-in.
BEGAN = "began"
# When the hospital's provider last asked whoever came by it, who may have come without being asked; 0
# where it does not say.
ASKED_THERE = "asked_at_the_provider"
# What the library calls a sign-in, or a confirming, by the provider.
BY_PROVIDER = "socialaccount"


def is_confirmed(request: HttpRequest) -> bool:
    """Say whether the password or the factor was given a short while ago, at the sign-in or since."""
    user: Any = request.user
    began = request.session.get(ASKED_THERE, request.session.get(BEGAN, 0))
    # What was given here, after coming by the provider too.
    given = [
        record["at"]
        for record in get_authentication_records(request, user)
        if record["method"] != BY_PROVIDER
    ]
    latest = max([began, *given])
    return bool(timezone.now().timestamp() - latest < app_settings.REAUTHENTICATION_TIMEOUT)


def confirmed(view: View) -> View:
    """Let a view answer those alone who have just confirmed who they are.

    Others are asked, and come back to what they wanted: the page is opened, and what they sent is
    kept in their session and sent then, without being typed again. No view that takes a password
    may be decorated so. To be written below the decorator that names the methods.
    """
    return _asking(view, keeps=True)


def confirmed_first(view: View) -> View:
    """Do the same for a view that takes a password, of which nothing that was sent is kept.

    Whoever confirms fills the form in once more, and is told so.
    """
    return _asking(view, keeps=False)


def _asking(view: View, *, keeps: bool) -> View:
    @wraps(view)
    def inside(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return view(request, *args, **kwargs) if is_confirmed(request) else _ask(request, keeps)

    inside.asks_again = True  # tests ask which views do
    inside.keeps_what_was_sent = keeps
    return inside


def _ask(request: HttpRequest, keeps: bool) -> HttpResponse:
    ways = get_adapter().get_reauthentication_methods(request.user)
    if not ways:
        raise PermissionDenied
    wanted = request.get_full_path()
    if request.method == "POST":
        wanted = request.path
        # Whatever waits from before is not what is wanted now.
        request.session.pop(STATE_SESSION_KEY, None)
        if keeps:
            # The library sends a kept form again where this address has no query; that is kept beside.
            request.session[STATE_SESSION_KEY] = {"request": serialize_request(request)}
        else:
            messages.warning(
                request,
                "Nothing was saved, and a password is not kept while you confirm who you are. "
                "Fill in the form once more.",
            )
    return redirect(f"{ways[0]['url']}?{urlencode({REDIRECT_FIELD_NAME: wanted})}")
