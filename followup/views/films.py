from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.films import MEASURED, READING, ReadingForm
from followup.forms.findings import findings_now
from followup.models.films import Film, Reading
from followup.rules.second_readings import SECOND, THIRD
from followup.selectors import films as selector
from followup.selectors.measuring import pictures_of
from followup.selectors.second_readings import (
    Hidden,
    hidden_from,
    numbers_waiting,
    wanted_for,
)
from followup.services.films import record_reading
from followup.services.second_readings import take_next
from followup.views.findings import asked_on, beside_rule
from registry.errors import StaleVersion
from registry.forms.measured import initial_of
from registry.selectors.visible import require
from registry.views.conflicts import try_to_save

PER_PAGE = 50
OTHERS = "others"
TURNS = {"second": SECOND, "third": THIRD}


@require_GET
def films(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_films")
    show = request.GET.get("show", "")
    if show in TURNS:
        return _wanted(request, show)
    others = show == OTHERS
    page = _page_of(request, selector.films_to_read(request.user, others=others))
    # Told by the page already, where it is the list of first readings.
    unread = None if others else page.paginator.count
    return render(
        request,
        "followup/films.html",
        {
            "page": page,
            "lines": selector.lines(request.user, page.object_list),
            "others": others,
            "query": f"show={OTHERS}&" if others else "",
            **_queues(request, show, unread),
        },
    )


def _wanted(request: HttpRequest, show: str) -> HttpResponse:
    page = _page_of(request, wanted_for(request.user, TURNS[show]))
    context = {"page": page, "turn": TURNS[show], "query": f"show={show}&"}
    return render(request, "followup/films_wanted.html", {**context, **_queues(request, show)})


def _page_of(request: HttpRequest, rows: QuerySet[Any]) -> Page[Any]:
    return Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))


def _queues(request: HttpRequest, show: str, unread: int | None = None) -> dict[str, Any]:
    """Return the lists that a reader chooses from, each with how many wait in it.

    `unread` are the films without a reading, where they were counted already.
    """
    waiting = numbers_waiting(request.user)
    first = selector.films_to_read(request.user).count() if unread is None else unread
    return {
        "queues": [
            {"address": "", "words": "First readings", "number": first, "here": not show},
            *(
                {
                    "address": f"?show={name}",
                    "words": f"{name.capitalize()} readings drawn for you",
                    "number": waiting[turn],
                    "here": show == name,
                }
                for name, turn in TURNS.items()
            ),
        ]
    }


@require_http_methods(["GET", "POST"])
def read(request: HttpRequest, film_id: int) -> HttpResponse:
    require(request.user, "read_film")
    film = selector.film_to_read(request.user, film_id)
    if film is None:
        raise Http404
    (line,) = selector.lines(request.user, [film])
    earlier = selector.own_readings(film, request.user)
    hidden = hidden_from(request.user, film, earlier[0] if earlier else None, course=line.course)
    blind = hidden is not None or not line.course
    asked = asked_on(film, blind=blind)
    form = ReadingForm(request.POST or None, film=film, initial=_now(earlier), **asked)
    conflict = None

    def save() -> str:
        _save(request, film, form, earlier, blind=blind)
        named = f"{film}, {line.key}" if hidden is None else hidden.words.lower()
        return f"Saved: your reading of {named}.{beside_rule(form)}"

    def saved_now() -> dict[str, Any]:
        return _now(selector.own_readings(film, request.user))

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect(next_address(request, film, hidden, stay=""))
    context = {
        "line": line,
        "film": film,
        "form": form,
        "conflict": conflict,
        "earlier": earlier[0] if earlier else None,
        "hidden": hidden,
        "back": list_of(request, hidden),
        "others": is_of_others(request),
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


def is_of_others(request: HttpRequest) -> bool:
    """Say whether somebody came from the list of films that others have read."""
    return request.GET.get("show") == OTHERS


def list_of(request: HttpRequest, hidden: Hidden | None) -> str:
    """Return the address of the list that a reader came from."""
    if hidden is not None and hidden.wanted is not None:
        name = next(name for name, turn in TURNS.items() if turn == hidden.turn)
        return f"{reverse('films')}?show={name}"
    return reverse("films") + (f"?show={OTHERS}" if is_of_others(request) else "")


def next_address(request: HttpRequest, film: Film, hidden: Hidden | None, *, stay: str) -> str:
    """Return where a reader goes on after a film was saved: `stay`, the next one, or their list."""
    if "next" not in request.POST:
        return stay or list_of(request, hidden)
    if hidden is not None and hidden.wanted is not None:
        taken = take_next(turn=hidden.turn, by=request.user, now=timezone.now())
        if taken is not None:
            return reverse("films-read", args=[taken.film_id])
    else:
        others = is_of_others(request)
        following = selector.film_after(request.user, film, others=others)
        if following is not None:
            query = f"?show={OTHERS}" if others else ""
            return reverse("films-read", args=[following.pk]) + query
    messages.info(request, "That was the last film of the list.")
    return list_of(request, hidden)
