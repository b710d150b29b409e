"""What is answered when the service itself is at fault: a page, or a problem to a program."""

from django.contrib.sessions.exceptions import SessionInterrupted
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views import defaults

from registry.api.base import PROBLEM, body_of
from registry.rules.fhir.outcomes import Issue, outcome

SORRY = "Something went wrong on our side. Nothing was half-saved; try again later."


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a request that failed by a fault of ours."""
    if request.path.startswith("/api/v"):
        return JsonResponse(body_of(500, SORRY), status=500, content_type=PROBLEM)
    if request.path.startswith("/fhir/"):
        told = outcome([Issue("fatal", "exception", SORRY)])
        return JsonResponse(told, status=500, content_type="application/fhir+json")
    return defaults.server_error(request)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that could not be taken.

    Where the session could not be written at its end the request was good: somebody signed out
    meanwhile, or the database went away. What was asked may have been done by then, and is so said.
    """
    if isinstance(exception, SessionInterrupted):
        return render(request, "errors/interrupted.html", status=503)
    return defaults.bad_request(request, exception)
