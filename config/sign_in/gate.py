"""Holds those who still have to do something about their own sign-in, until it is done."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from config.sign_in.factors import needs_factor
from followup.api.fhir.base import CONTENT
from registry.api.base import PROBLEM, body_of
from registry.rules.fhir.outcomes import error, outcome

# What somebody can always do: go away, and what they are held for.
OPEN = {"account_logout", "account_login", "account_reauthenticate", "account_inactive", "health"}
PASSWORD = "account_change_password"  # noqa: S105 - the name of an address
FACTOR = "mfa_index"
SETTING_UP = {
    *("mfa_index", "mfa_activate_totp", "mfa_add_webauthn", "mfa_view_recovery_codes"),
    *("mfa_reauthenticate", "mfa_reauthenticate_webauthn"),
}


class gate:  # noqa: N801 - used as a middleware factory, like a function
    """Lead a person who is held to the one page where they can put it right, whatever they ask for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the next layer."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Answer in the place of the page that was asked for, where something is to be done first."""
        page = held_for(request)
        request.is_held = bool(page)  # type: ignore[attr-defined]  # read by the navigation
        here = request.resolver_match.view_name if request.resolver_match else ""
        if not page or here in OPEN or here == page or (page == FACTOR and here in SETTING_UP):
            return None
        if request.path.startswith(("/api/v1/", "/fhir/")):
            return _refuse_program(request)
        # What a link opens for anybody asks for no sign-in, whoever is signed in.
        if not getattr(view, "login_required", True):
            return None
        return redirect(page)


def held_for(request: HttpRequest) -> str:
    """Return the page on which somebody has something to do before all else, '' for nobody."""
    user = request.user
    if not user.is_authenticated:
        return ""
    if user.must_change_password:
        return PASSWORD
    return FACTOR if needs_factor(request) else ""


def _refuse_program(request: HttpRequest) -> HttpResponse:
    words = (
        "Something has to be done about your sign-in first; open any page and you are led to it."
    )
    if request.path.startswith("/fhir/"):
        return JsonResponse(outcome([error("forbidden", words)]), status=403, content_type=CONTENT)
    return JsonResponse(body_of(403, words), status=403, content_type=PROBLEM)
