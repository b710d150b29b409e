from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from registry.models.sign_ins import SignInEventKind
from registry.selectors.sign_ins import events_here
from registry.selectors.visible import require

PER_PAGE = 50


@require_GET
def sign_ins(request: HttpRequest) -> HttpResponse:
    """List what happened at the door; `kind` shows one kind alone."""
    require(request.user, "set_up")
    rows, kind = events_here(request.user), request.GET.get("kind", "")
    chosen = kind if kind in SignInEventKind.values else ""
    if chosen:
        rows = rows.filter(kind=chosen)
    context = {
        "page": Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
        "kinds": SignInEventKind.choices,
        "kind": chosen,
        "query": f"kind={chosen}&" if chosen else "",
    }
    return render(request, "registry/setup_sign_ins.html", context)
