"""Turns expected refusals into a page that says what to do."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from analytics.selectors.cohorts import Unchosen
from analytics.views.asked import ask
from registry.errors import HoldfastError, NotAllowed, StaleVersion


class refusals:  # noqa: N801 - used as a middleware factory, like a function
    """Answer a HoldfastError that no view has caught."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the next layer."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        """Answer 403, 409 or 400 with the refusal's own words."""
        if not isinstance(fault, HoldfastError):
            return None
        if isinstance(fault, Unchosen):
            return ask(request, fault)
        status = (
            403
            if isinstance(fault, NotAllowed)
            else 409
            if isinstance(fault, StaleVersion)
            else 400
        )
        return render(request, "errors/refused.html", {"message": str(fault)}, status=status)
