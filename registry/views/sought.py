"""Names that somebody looks for: they travel in a form and wait in the session, never in an address."""

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

# In the session, by the random word that stands in the address; so the back button and paging work.
KEPT = "sought"
FOUND = "found"
MOST_KEPT = 20
MOST_LETTERS = 200


@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """Keep what is looked for, and lead to the page that shows what is found."""
    words = request.POST.get("q", "").strip()[:MOST_LETTERS]
    page = _page(request.POST.get("page", ""))
    return redirect(f"{page}?{FOUND}={_kept(request, words)}" if words else page)


def words_of(request: HttpRequest) -> str:
    """Return what is looked for on a page; nothing where it is not known in this session any more."""
    mark = request.GET.get(FOUND, "")
    words: str = request.session.get(KEPT, {}).get(mark, "")
    if mark and not words:
        messages.info(request, "What was looked for is forgotten by now. Type it once more.")
    return words


def _kept(request: HttpRequest, words: str) -> str:
    kept: dict[str, str] = request.session.get(KEPT, {})
    # The same words stand for the same address, so that a page is not made anew by looking again.
    mark = next((mark for mark, said in kept.items() if said == words), secrets.token_urlsafe(9))
    kept.pop(mark, None)
    newest = [*kept.items(), (mark, words)][-MOST_KEPT:]
    request.session[KEPT] = dict(newest)
    return mark


def _page(asked: str) -> str:
    try:
        resolve(asked)
    except Resolver404:
        return reverse("patients")
    safe = url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if safe else reverse("patients")
