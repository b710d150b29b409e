"""What is answered when the service itself is at fault: a page, or a problem to a program."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views import defaults

from registry.api.base import PROBLEM, body_of

SORRY = "Something went wrong on our side. Nothing was half-saved; try again later."


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a request that failed by a fault of ours."""
    if request.path.startswith("/api/v"):
        return JsonResponse(body_of(500, SORRY), status=500, content_type=PROBLEM)
    return defaults.server_error(request)
