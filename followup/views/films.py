from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.films import MEASURED, READING, ReadingForm
from followup.forms.findings import findings_now
from followup.models.films import Film, Reading
from followup.selectors import films as selector
from followup.selectors.measuring import pictures_of
from followup.services.films import record_reading
from followup.views.findings import asked_on, beside_rule
from registry.errors import StaleVersion
from registry.forms.measured import initial_of
from registry.selectors.visible import require
from registry.views.conflicts import try_to_save

PER_PAGE = 50


@require_GET
def films(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_films")
    second = _second(request)
    rows = selector.films_to_read(request.user, second=second)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "followup/films.html",
        {
            "page": page,
            "lines": selector.lines(request.user, page.object_list),
            "second": second,
            "query": "second=yes&" if second else "",
        },
    )


@require_http_methods(["GET", "POST"])
def read(request: HttpRequest, film_id: int) -> HttpResponse:
    require(request.user, "read_film")
    film = selector.film_to_read(request.user, film_id)
    if film is None:
        raise Http404
    (line,) = selector.lines(request.user, [film])
    earlier = selector.own_readings(film, request.user)
    asked = asked_on(film, blind=not line.course)
    form = ReadingForm(request.POST or None, film=film, initial=_now(earlier), **asked)
    conflict = None

    def save() -> str:
        _save(request, film, form, earlier, blind=not line.course)
        return f"Saved: your reading of {film}, {line.key}.{beside_rule(form)}"

    def saved_now() -> dict[str, Any]:
        return _now(selector.own_readings(film, request.user))

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(_next_address(request, film))
    context = {
        "line": line,
        "film": film,
        "form": form,
        "conflict": conflict,
        "earlier": earlier[0] if earlier else None,
        "second": _second(request),
        "pictures": pictures_of(film),
    }
    return render(request, "followup/film.html", context, status=409 if conflict else 200)


def _save(
    request: HttpRequest, film: Film, form: Any, earlier: Sequence[Reading], *, blind: bool
) -> None:
    seen = form.cleaned_data["version"]
    if seen != len(earlier):
        raise StaleVersion("Your reading of this film", expected=seen, current=len(earlier))
    record_reading(
        film=film,
        values={**form.reading(), "blind": blind},
        reader=request.user,
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
        expected_version=earlier[0].version if earlier else 0,
        found=form.found(),
    )


def _now(earlier: Sequence[Reading]) -> dict[str, Any]:
    """Return one's own reading as the form starts from it; `version` counts how often one read."""
    values = initial_of(earlier[0], READING, MEASURED) if earlier else {}
    found = findings_now(earlier[0]) if earlier else {}
    return {**values, **found, "version": len(earlier)}


def _second(request: HttpRequest) -> bool:
    return request.GET.get("second") == "yes"


def _next_address(request: HttpRequest, film: Film) -> str:
    second = _second(request)
    query = "?second=yes" if second else ""
    following = selector.film_after(request.user, film, second=second)
    if "next" in request.POST and following is not None:
        return reverse("films-read", args=[following.pk]) + query
    if "next" in request.POST:
        messages.info(request, "That was the last film of the list.")
    return reverse("films") + query
