"""What every request passes: its size, what a browser may keep of the answer, refusals told as a page."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.selectors.cohorts import Unchosen
from analytics.views.asked import ask
from registry.errors import HoldfastError, NotAllowed, StaleVersion
from registry.selectors import emergencies as selector
from registry.services import emergencies as service


class emergencies:  # noqa: N801 - used as a middleware factory, like a function
    """Let an emergency access count for pages, and write down each page that shows its patient.

    Programs get nothing by it. Where it cannot be written down, nothing is shown.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the next layer."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on, and write down what its answer shows."""
        answer = self.get_response(request)
        match = request.resolver_match
        # Who asked is not looked up where nobody has to sign in.
        counted = getattr(request, "emergencies_count", False) and answer.status_code == 200
        if counted and match and selector.may_show(request.user):
            given = match.kwargs
            said = "" if answer.streaming else answer.content.decode(errors="replace")
            service.write_down(
                by=request.user,
                text=f"{request.path_info} {said}",
                numbers=[n for name, n in given.items() if isinstance(n, int) and name != "number"],
                page=str(match.url_name),
                now=timezone.now(),
            )
        return answer

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Let the accesses of whoever has signed in count, before the page asks what it may show."""
        for_programs = request.path_info.startswith(("/api/", "/fhir/"))
        signed_in = getattr(view, "login_required", True) and request.user.is_authenticated
        if signed_in and not for_programs:
            selector.let_in(request.user)
            request.emergencies_count = True  # type: ignore[attr-defined]
        return None


Next = Callable[[HttpRequest], HttpResponse]


def small_enough(get_response: Next) -> Next:
    """Refuse a request that is larger than any that we take, before a byte of it is read."""

    def answer(request: HttpRequest) -> HttpResponse:
        said = request.META.get("CONTENT_LENGTH") or "0"
        if said.isdigit() and int(said) <= settings.REQUEST_MOST_MB * 1_000_000:
            return get_response(request)
        text = (
            f"At most {settings.REQUEST_MOST_MB} MB are taken at once. Send fewer or smaller files."
        )
        return HttpResponse(text, status=413, content_type="text/plain; charset=utf-8")

    return answer


def programs_by_https(get_response: Next) -> Next:
    """Refuse a program that asks in the clear, where pages are led to https.

    Led on in silence it would go on sending its token in the clear at each first try.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        in_clear = settings.SECURE_SSL_REDIRECT and not request.is_secure()
        if in_clear and request.path_info.startswith(("/api/", "/fhir/")):
            text = (
                "This interface is spoken by https alone. A token that was sent is to be revoked."
            )
            return HttpResponse(text, status=403, content_type="text/plain; charset=utf-8")
        return get_response(request)

    return answer


def kept_nowhere(get_response: Next) -> Next:
    """Let no browser and no proxy keep an answer that does not say itself how it may be kept."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        return response

    return answer


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
