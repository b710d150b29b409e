"""Gives each request a number, and writes down what became of it without what was asked in it."""

import structlog
from django.http import HttpRequest, HttpResponse
from django_structlog.middlewares import RequestMiddleware

NUMBER = "X-Request-ID"


class Tracked(RequestMiddleware):
    """Names the page and never the address: its query may hold what somebody typed of a patient."""

    @staticmethod
    def format_request(request: HttpRequest) -> str:
        """Return method and page."""
        match = getattr(request, "resolver_match", None)
        return f"{request.method} {match.view_name if match else '(not yet known)'}"

    def handle_response(self, request: HttpRequest, response: HttpResponse) -> None:
        """Tell the number with the answer, so that whoever reports a fault can name it."""
        number = structlog.contextvars.get_contextvars().get("request_id")
        if number:
            response.headers[NUMBER] = number
        super().handle_response(request, response)
